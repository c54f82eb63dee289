import type { KeyChange } from "./messages";

/** Tells a change of the file in words: 'channel.own "pump - block" = "9 mm"'. */
export function tellChange({ path, value }: KeyChange): string {
  const where = path.map((key, k) => tellKey(key, k)).join("");
  return value === null || value === undefined ? `${where}: take it out` : `${where} = ${tellValue(value)}`;
}

export function tellChanges(changes: KeyChange[]): string {
  return changes.map(tellChange).join("; ");
}

function tellKey(key: string | number, k: number): string {
  // As a reader counts: the file's first table of a kind is number 1.
  if (typeof key === "number") return ` ${key + 1}`;
  if (!/^[\w-]+$/.test(key)) return ` "${key}"`;
  return k === 0 ? key : `.${key}`;
}

/** A value as the file has it. */
function tellValue(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(tellValue).join(", ")}]`;
  if (typeof value === "object" && value !== null) {
    const pairs = Object.entries(value).map(([key, inner]) => `${key} = ${tellValue(inner)}`);
    return `{ ${pairs.join(", ")} }`;
  }
  return JSON.stringify(value);
}
