// What is typed and where the page stands outlive a reload: a page whose server was started anew loads itself again.
// A box is a draft while it holds something else than the server gave it. A save that was under way is sent again; the
// server takes a value that it has already as no change.

const PLACE = `draft ${location.pathname}${location.search}`;
const PATIENCE = 60_000; // boxes come when the answer is computed [ms]
const BOXES = ".field input[id], .field textarea[id]";
const asked = new Set(); // boxes whose save was asked for
let waiting = {}; // drafts of before the reload whose boxes are not there yet
let place = null; // where the page stood and what had the focus, until it does again

function drafts() {
  const found = {};
  for (const box of document.querySelectorAll(BOXES)) {
    if (box.value.trim() === box.defaultValue.trim()) asked.delete(box.id);
    else found[box.id] = { text: box.value, was: box.defaultValue, asked: asked.has(box.id) };
  }
  return found;
}

function keep() {
  const at = document.activeElement;
  const focus = at?.matches?.(BOXES) ? { id: at.id, from: at.selectionStart, to: at.selectionEnd } : null;
  const now = place ?? { scroll: window.scrollY, focus };
  sessionStorage.setItem(PLACE, JSON.stringify({ ...now, boxes: { ...drafts(), ...waiting } }));
}

function restore(box, draft) {
  if (box.value !== draft.text) box.value = draft.text;
  if (box.defaultValue !== draft.was) { // somebody else changed it: what is in the box now must not pass unseen
    const says = document.getElementById(`${box.id}-says`);
    if (says) says.textContent = `Somebody saved ${box.defaultValue} meanwhile; Enter puts yours in its place.`;
    return;
  }
  box.dispatchEvent(new Event("input", { bubbles: true }));
  if (draft.asked || !box.id.startsWith("field-")) box.dispatchEvent(new Event("change", { bubbles: true }));
}

function settle() {
  for (const [id, draft] of Object.entries(waiting)) {
    const box = document.getElementById(id);
    if (!box) continue;
    delete waiting[id];
    restore(box, draft);
  }
  if (!place) return;
  const box = place.focus && document.getElementById(place.focus.id);
  if (box && document.activeElement === document.body) {
    box.focus({ preventScroll: true });
    box.setSelectionRange(place.focus.from, place.focus.to);
  }
  window.scrollTo(0, place.scroll);
  if (Math.abs(window.scrollY - place.scroll) < 2 && (box || !place.focus)) place = null;
}

const before = JSON.parse(sessionStorage.getItem(PLACE) ?? "null");
sessionStorage.removeItem(PLACE);
if (before && performance.getEntriesByType("navigation")[0]?.type === "reload") {
  history.scrollRestoration = "manual";
  waiting = before.boxes;
  place = { scroll: before.scroll, focus: before.focus };
  const watch = new MutationObserver(settle);
  watch.observe(document.body, { childList: true, subtree: true });
  const stop = () => { watch.disconnect(); waiting = {}; place = null; };
  setTimeout(stop, PATIENCE);
  for (const kind of ["wheel", "touchmove"]) window.addEventListener(kind, () => { place = null; }, { once: true, passive: true });
  settle();
}
document.addEventListener("input", (e) => { asked.delete(e.target.id); keep(); });
document.addEventListener("change", (e) => { if (e.isTrusted) asked.add(e.target.id); keep(); });
document.addEventListener("keydown", (e) => { // the browser tells a change once; Enter asks again for what was not saved
  const box = e.target;
  if (e.key !== "Enter" || !box.matches?.(BOXES) || !asked.has(box.id) || box.value.trim() === box.defaultValue.trim()) return;
  box.dispatchEvent(new Event("change", { bubbles: true }));
});
window.addEventListener("pagehide", keep);
