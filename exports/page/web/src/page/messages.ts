/**
 * What page and server say to each other over the socket "live": one JSON object a message, "do" from the page, "tell"
 * from the server. Lengths are mm in the panel frame, y up; "path" is SVG path data in mm with y down from the top edge.
 * `exports/page/documents/` makes the documents, `exports/page/serving/` sends them.
 */

export type Xy = [number, number];
export type Box = [number, number, number, number];
export type Layer = "back" | "front";

/** "port:NAME", "channel:NAME", "clear:NUMBER", "tank", "pump". */
export type ThingId = string;

// ---- The plan -------------------------------------------------------------------------------------------------------

export interface LegDoc {
  layer: Layer;
  points: Xy[];
  path: string;
  flow_l_min: number;
  velocity_m_s: number;
  drop_kpa: number;
}

export interface ChannelDoc {
  id: ThingId;
  name: string;
  width: number;
  depth: number;
  bend_radius: number;
  ends: string[];
  /** Whether the file gives it a width of its own. */
  own_width: boolean;
  /** Whether the file keeps its route. */
  kept: boolean;
  outlines: Partial<Record<Layer, string>>;
  legs: LegDoc[];
  holes: Xy[];
  flow_l_min: number;
  velocity_m_s: number;
  drop_kpa: number;
  length_mm: number;
  /** With no more digits than their bands allow; "-" where nothing flows. */
  told: { flow: string; velocity: string; drop: string };
  said: string;
}

export interface PortDoc {
  id: ThingId;
  name: string;
  part: string;
  role: string;
  on: "front" | "back" | "top" | "bottom" | "left" | "right";
  thread: string;
  at: Xy;
  foot: Xy;
  bore_radius: number;
  collar_radius: number;
  spanner_radius: number;
  depth: number;
  channel: ThingId;
  /** Whether the file gives it one place. */
  pinned: boolean;
  /** Where the file lets it stand: a box on front and back, a span along an edge; null where pinned. */
  region: number[] | null;
  movable: boolean;
  key: string;
  line: number;
  said: string;
}

export interface TankDoc {
  id: "tank";
  kind: "pocket" | "separate";
  box: Box | null;
  corner_radius: number;
  outlet: Xy;
  posts: Xy[];
  post_diameter: number;
  pinned: boolean;
  region: Box | null;
  movable: boolean;
  line: number;
  said: string;
}

export interface PumpDoc {
  id: "pump";
  name: string;
  on: string;
  inlet: Xy;
  outlet: Xy;
  inlet_radius: number;
  outlet_radius: number;
  turn_deg: number;
  turns: number[];
  seat_radius: number;
  reach: number;
  screws: Xy[];
  pinned: boolean;
  region: Box | null;
  movable: boolean;
  line: number;
  said: string;
}

export interface ClearDoc {
  id: ThingId;
  name: string;
  box: Box;
  line: number;
}

/** A scale of colours: bands between round numbers from 0 up, and how these are written. The 3D view has the same. */
export interface ScaleDoc {
  unit: string;
  edges: number[];
  texts: string[];
}

export interface PlanDoc {
  name: string;
  width: number;
  height: number;
  corner_radius: number;
  pitch: number;
  most_velocity: number;
  scales: { velocity: ScaleDoc; drop: ScaleDoc };
  channels: ChannelDoc[];
  ports: PortDoc[];
  tank: TankDoc;
  pump: PumpDoc;
  clears: ClearDoc[];
  /** Empty until the whole plan is there. */
  cords: { layer: Layer; width: number; path: string }[];
  screws: Xy[];
  front_screws: Xy[];
}

/** A change to the file that a remedy proposes. */
export interface KeyChange {
  path: (string | number)[];
  value: unknown;
}

export interface FindingDoc {
  /** From 0, in the order of the list; the scene numbers its findings alike. */
  number: number;
  severity: "fault" | "caution" | "note";
  code: string;
  text: string;
  remedy: string;
  source: string;
  /** The maker's reason where the file accepts it; else empty. */
  accepted: string;
  value: string;
  limit: string;
  where: string;
  at: [number, number, number] | null;
  features: string[];
  /** Things of the plan that it concerns. */
  things: ThingId[];
  /** The remedy as an edit, or null where it is none. */
  changes: KeyChange[] | null;
  /** "plan" until the solid's own checks are made, else "solid". */
  of: "plan" | "solid";
}

export interface NumberDoc {
  name: string;
  value: string;
  more: string;
}

export interface PlanTold {
  plan: PlanDoc;
  numbers: NumberDoc[];
  findings: FindingDoc[];
  /** "optimal (proven)" ...; of a draft "not proven yet". */
  proof: string;
  /**
   * Whether findings are all that the plan's rules find: a draft's are those that need no cords, screws,
   * voxels or pumps beside the one in use.
   */
  whole: boolean;
}

/** Why there is no plan: what is wrong in the file, why no layout was found, or why a draft's edits cannot be made. */
export interface ProblemDoc {
  /** "stopped": it is not known whether there is a layout. */
  kind: "file" | "layout" | "edit" | "stopped";
  headline: string;
  /** Of the file: each with its line, 0 where it has none. Of a layout: reasons in sentences, line 0. */
  told: { line: number; key: string; text: string }[];
  remedies: { text: string; changes: KeyChange[] | null }[];
  at: Xy | null;
  channels: string[];
  cells: Xy[];
  /**
   * Of a layout: the panel as far as it is known without routes, so without channels. What the file leaves free stands
   * where the last layout had it, else amid its region. Null for errors of the file.
   */
  plan: PlanDoc | null;
}

// ---- From the page --------------------------------------------------------------------------------------------------

/** An edit by hand; several in one message are one step of undo. */
export type Gesture =
  | { move: ThingId; to: Xy }
  | { turn: "pump"; to: number }
  | { box: ThingId; to: Box }
  | { size: "tank"; to: Xy }
  | { free: ThingId }
  | { pin: ThingId }
  | { width: ThingId; to: number | null }
  | { keep: ThingId }
  | { let: ThingId }
  | { add: "clear"; box: Box; name: string }
  | { remove: ThingId }
  | { changes: KeyChange[] };

export interface StartForm {
  name: string;
  width: number;
  height: number;
  closing: "cord" | "bonded" | "one-piece";
  flow: number;
  /** In the order of flow. */
  parts: StartPart[];
}

export interface StartPart {
  name: string;
  kind: "cooled" | "radiator";
  /** Heat of a cooled part in W; of a radiator what it gives to the air in W/K. */
  rating: number;
  /** It shares the flow with the part before it. */
  beside: boolean;
}

/** What the form of a new panel may hold: least and most in mm, L/min, W, W/K; parts; letters of a name. */
export interface StartLimits {
  width: [number, number];
  height: [number, number];
  flow: [number, number];
  heat: [number, number];
  capacity: [number, number];
  parts: number;
  /** Of these side by side. */
  beside: number;
  letters: number;
  closings: StartForm["closing"][];
  /** Names of the panel's own pieces: no part may bear one. */
  reserved: string[];
}

export type Wish =
  /** Try edits without writing them; the newest number wins, [] ends the try. */
  | { do: "draft"; number: number; revision: number; edits: Gesture[] }
  | { do: "edit"; number: number; revision: number; edits: Gesture[]; said: string }
  | { do: "text"; number: number; revision: number; text: string }
  /** The step that the file was told with at that revision. */
  | { do: "undo" | "redo"; number: number; revision: number }
  /** Of a conflict as it was told at that revision: the page's version over the file's, or the file's as it is. */
  | { do: "settle"; number: number; revision: number; conflict: number; take: "page" | "file" }
  /** Where may it go? */
  | { do: "places"; number: number; thing: ThingId }
  | { do: "make" }
  | { do: "stop making" }
  | { do: "start"; demo: string }
  | { do: "start"; form: StartForm };

// ---- From the server ------------------------------------------------------------------------------------------------

export interface FileTold {
  tell: "file";
  /** Counts every change of the text, whoever made it. */
  revision: number;
  name: string;
  /** False where there is no such file yet: the page then offers a start. */
  exists: boolean;
  text: string;
  /** What undo and redo would do, in words; null where there is nothing. */
  undo: string | null;
  redo: string | null;
  /** "page", "editor" (changed outside), "start": who changed it last. */
  by: "page" | "editor" | "start";
}

export type Tell =
  | {
      tell: "hello";
      version: string;
      file: string;
      demos: { name: string; said: string }[];
      /** The most bytes of the file. */
      most_bytes: number;
      limits: StartLimits;
    }
  | FileTold
  /** The plan of a revision: first quick, then whole, then with the solid's findings. */
  | ({ tell: "plan"; revision: number; ms: number } & PlanTold)
  | { tell: "problem"; revision: number; problem: ProblemDoc }
  /** The answer to a draft: one of plan and problem. */
  | { tell: "draft"; number: number; ms: number; answer: PlanTold | null; problem: ProblemDoc | null }
  /** Nodes where a thing may stand as to all that has one place; a pump's inlet, a tank's lower left corner. */
  | { tell: "places"; number: number; thing: ThingId; pitch: number; nodes: Xy[]; why: string }
  /** What works at what: shown while it lasts; stage "" when it has ended. */
  | { tell: "progress"; of: "plan" | "solid" | "make"; stage: string; seconds: number; share: number | null }
  /** The 3D view of a revision is ready at this address beside the page; `checked`: with its walls and findings. */
  | { tell: "solid"; revision: number; address: string; checked: boolean }
  | {
      tell: "made";
      revision: number;
      /** Empty where it was stopped or failed. */
      files: { name: string; what: string; bytes: number; address: string }[];
      all: string;
      /** Why some or all are not there; empty where nothing is withheld. */
      withheld: string;
      findings: FindingDoc[];
    }
  | { tell: "done"; number: number; revision: number; said: string }
  /** What was asked for was not done: why, and what helps. */
  | { tell: "refused"; number: number; why: string }
  /** `number`: only in the page whose wish led to the question, as the answer to that; 0 where it had no number. */
  | {
      tell: "conflict";
      conflict: number;
      said: string;
      page: string;
      file: string;
      lines: number[];
      number?: number;
    }
  /** The question is answered, in whichever tab. (Told again as "conflict" where the file changes meanwhile.) */
  | { tell: "settled"; conflict: number }
  /** The process that computes was started anew, and why; not urgent: at rest, or as asked: nothing is missed. */
  | { tell: "restarted"; why: string; urgent: boolean };
