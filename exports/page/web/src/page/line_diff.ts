/** A line of two texts side by side; `same` where both have it. */
export interface LinePair {
  left: { number: number; text: string } | null;
  right: { number: number; text: string } | null;
  same: boolean;
}

/** Lines of both texts are compared one by one up to this many pairs; beyond it all between is told as changed. */
const MOST_PAIRS = 4_000_000;

/** Lays the lines of two texts side by side, as many of them equal as can be. */
export function pairLines(left: string, right: string): LinePair[] {
  const [a, b] = [left.split("\n"), right.split("\n")];
  let head = 0;
  while (head < a.length && head < b.length && a[head] === b[head]) head++;
  let tail = 0;
  while (tail < a.length - head && tail < b.length - head && a.at(-1 - tail) === b.at(-1 - tail)) tail++;
  const pairs: LinePair[] = [];
  const add = (i: number | null, j: number | null, same: boolean) =>
    pairs.push({
      left: i === null ? null : { number: i + 1, text: a[i]! },
      right: j === null ? null : { number: j + 1, text: b[j]! },
      same,
    });
  for (let k = 0; k < head; k++) add(k, k, true);
  const [mine, theirs] = [a.slice(head, a.length - tail), b.slice(head, b.length - tail)];
  let [i, j] = [0, 0];
  for (const [x, y] of [...matches(mine, theirs), [mine.length, theirs.length] as const]) {
    // Between two equal lines, what was changed stands beside what it became.
    while (i < x || j < y) add(i < x ? head + i++ : null, j < y ? head + j++ : null, false);
    if (x < mine.length) add(head + i++, head + j++, true);
  }
  for (let k = tail; k > 0; k--) add(a.length - k, b.length - k, true);
  return pairs;
}

/** Numbers of lines that stand in both texts in the same order: the most that there are. */
function matches(a: string[], b: string[]): [number, number][] {
  if (a.length * b.length > MOST_PAIRS) return [];
  const wide = b.length + 1;
  const most = new Uint32Array((a.length + 1) * wide);
  for (let i = a.length - 1; i >= 0; i--) {
    for (let j = b.length - 1; j >= 0; j--) {
      const at = i * wide + j;
      most[at] = a[i] === b[j] ? most[at + wide + 1]! + 1 : Math.max(most[at + wide]!, most[at + 1]!);
    }
  }
  const found: [number, number][] = [];
  for (let i = 0, j = 0; i < a.length && j < b.length; ) {
    if (a[i] === b[j]) found.push([i++, j++]);
    else if (most[(i + 1) * wide + j]! >= most[i * wide + j + 1]!) i++;
    else j++;
  }
  return found;
}
