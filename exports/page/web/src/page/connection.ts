import type { Tell, Wish } from "./messages";

const FIRST_PAUSE_MS = 400;
const MOST_PAUSE_MS = 10_000;

/** Who hears what the socket brings. */
export interface Hearing {
  tell(tell: Tell): void;
  connected(on: boolean): void;
}

/** The socket to the server, opened again with growing pauses where it closes. Nothing is kept to be sent later. */
export class Connection {
  private socket: WebSocket | null = null;
  private pause = FIRST_PAUSE_MS;
  private timer = 0;

  constructor(
    private readonly address: string,
    private readonly hearing: Hearing,
  ) {
    // Whoever comes back to the page, or to the network, need not wait for the pause to end.
    addEventListener("online", () => this.hurry());
    document.addEventListener("visibilitychange", () => document.hidden || this.hurry());
    this.open();
  }

  /** Sends a wish; false where there is no connection. */
  send(wish: Wish): boolean {
    if (this.socket?.readyState !== WebSocket.OPEN) return false;
    this.socket.send(JSON.stringify(wish));
    return true;
  }

  private hurry(): void {
    if (this.socket !== null) return;
    clearTimeout(this.timer);
    this.open();
  }

  private open(): void {
    const socket = new WebSocket(this.address);
    this.socket = socket;
    socket.addEventListener("open", () => {
      this.pause = FIRST_PAUSE_MS;
      this.hearing.connected(true);
    });
    socket.addEventListener("message", (event) => {
      if (this.socket === socket) this.hearing.tell(JSON.parse(String(event.data)) as Tell);
    });
    socket.addEventListener("close", () => {
      if (this.socket !== socket) return;
      this.socket = null;
      this.hearing.connected(false);
      this.timer = window.setTimeout(() => this.open(), this.pause);
      this.pause = Math.min(MOST_PAUSE_MS, 1.7 * this.pause);
    });
  }
}

/** The socket's address beside the page. */
export function liveAddress(page: Location): string {
  const live = new URL("live", page.href);
  live.protocol = page.protocol === "https:" ? "wss:" : "ws:";
  live.hash = live.search = "";
  return live.href;
}
