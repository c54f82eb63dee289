/** Waits until the page has been painted: what is read first shall not wait for the solid, nor share its processor. */
export function painted(): Promise<void> {
  // A second frame is asked for only once the first is on its way to the screen.
  return new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done))));
}
