import { readFileSync } from "node:fs";
import { defineConfig, type Plugin } from "vite";

// Its licence asks that the notice goes with every copy.
const notice = readFileSync("node_modules/three/LICENSE", "utf8").trim();

/** Puts the page's HTML beside its script as it is: nothing in it is to be rewritten. */
function copyPage(): Plugin {
  return {
    name: "copy-page",
    generateBundle() {
      this.addWatchFile("src/page/page.html");
      this.emitFile({ type: "asset", fileName: "page.html", source: readFileSync("src/page/page.html", "utf8") });
    },
  };
}

// Modules: what draws the solid is fetched only once the plan is there. All addresses are relative: the page lives
// under a path that nobody knows beforehand. The report's build comes first and empties the folder.
export default defineConfig({
  publicDir: false,
  logLevel: "warn",
  base: "./",
  plugins: [copyPage()],
  build: {
    outDir: "../built",
    emptyOutDir: false,
    target: "es2022",
    modulePreload: false,
    cssCodeSplit: false,
    chunkSizeWarningLimit: 750,
    rolldownOptions: {
      input: "src/page/main.ts",
      output: {
        format: "es",
        entryFileNames: "page.js",
        chunkFileNames: "page-[name].js",
        assetFileNames: "page[extname]",
        postBanner: (chunk) =>
          chunk.moduleIds.some((id) => id.includes("/three/")) ? `/*! Contains three.js.\n${notice}\n*/` : "",
      },
    },
  },
});
