import { readFileSync } from "node:fs";
import { defineConfig } from "vite";

// Its licence asks that the notice goes with every copy.
const notice = readFileSync("node_modules/three/LICENSE", "utf8").trim();

// One classic script: a module script does not run in a page that was opened as a file.
export default defineConfig({
  publicDir: false,
  logLevel: "warn",
  build: {
    outDir: "../built",
    emptyOutDir: true,
    target: "es2022",
    modulePreload: false,
    cssCodeSplit: false,
    chunkSizeWarningLimit: 750,
    rolldownOptions: {
      input: "src/report/main.ts",
      output: {
        format: "iife",
        entryFileNames: "report.js",
        assetFileNames: "report[extname]",
        postBanner: `/*! Contains three.js.\n${notice}\n*/`,
      },
    },
  },
});
