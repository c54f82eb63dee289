/** What belongs to a token: what lights up with it, what is told, what the solids call it. */
interface Entry {
  lights: string[];
  said: string;
  feature: string;
}

const LIT = "lit";

/**
 * Channels, ports and parts, which stand in the plan and in tables at once: pointing at one lights up all that belongs
 * to it; one that is clicked stays lit.
 */
export class Lights {
  private readonly entries: Map<string, Entry>;
  private readonly places = new Map<string, Element[]>();
  private kept: string | null = null;

  constructor(
    data: string,
    private readonly say: (text: string) => void,
  ) {
    this.entries = new Map(Object.entries(JSON.parse(data) as Record<string, Entry>));
    for (const element of document.querySelectorAll("[data-token]")) {
      const token = element.getAttribute("data-token") ?? "";
      this.places.set(token, [...(this.places.get(token) ?? []), element]);
    }
  }

  has(token: string): boolean {
    return this.entries.has(token);
  }

  /** Returns the token of a feature by the name that the solids have for it. */
  tokenOf(feature: string): string | null {
    for (const name of [feature, feature.replace(/ front$/, ""), feature.replace(/^spot face /, "port ")]) {
      for (const [token, entry] of this.entries) {
        if (entry.feature === name || entry.feature.startsWith(`${name} G`)) return token;
      }
    }
    return null;
  }

  featureOf(token: string): string {
    return this.entries.get(token)?.feature ?? "";
  }

  /** Lights up what belongs to a token as long as it is pointed at; null: back to what is kept. */
  point(token: string | null): void {
    this.show(token ?? this.kept);
  }

  /** Keeps a token lit; the one that is kept already is let go. */
  keep(token: string | null): void {
    this.kept = token === this.kept ? null : token;
    for (const [name, elements] of this.places) {
      for (const element of elements) {
        if (element.hasAttribute("aria-pressed")) {
          element.setAttribute("aria-pressed", String(name === this.kept));
        }
      }
    }
    this.show(this.kept);
  }

  isKept(token: string): boolean {
    return this.kept === token;
  }

  /** Lights up several tokens with a text of their own, keeping none. */
  showAll(tokens: string[], text: string): void {
    this.keep(null);
    this.light(new Set(tokens));
    this.say(text);
  }

  private show(token: string | null): void {
    const entry = token === null ? undefined : this.entries.get(token);
    this.light(new Set(entry?.lights ?? []));
    this.say(entry?.said ?? "");
  }

  private light(lit: Set<string>): void {
    for (const [token, elements] of this.places) {
      for (const element of elements) element.classList.toggle(LIT, lit.has(token));
    }
  }
}
