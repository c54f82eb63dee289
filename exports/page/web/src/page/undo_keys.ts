import type { Actions } from "./actions";
import type { State } from "./state";

/** Fields with an undo of their own. */
export const TYPED = "textarea, input:not([type=checkbox], [type=radio], [type=range])";

/** Undo and redo by keys, where no field has an undo of its own. */
export function undoByKey(event: KeyboardEvent, { file }: State, actions: Actions): void {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
  if (event.target instanceof Element && event.target.matches(TYPED)) return;
  const key = event.key.toLowerCase();
  const redo = key === "y" || (key === "z" && event.shiftKey);
  if (!redo && key !== "z") return;
  event.preventDefault();
  if (!file?.exists) return;
  if (redo && file.redo) actions.redo();
  if (!redo && file.undo) actions.undo();
}
