// The drive log on the phone: what is chosen, what is said, what is kept. Every word from outside goes in as text.

import { entries, keepEntry, keepThing, newId, thing } from "./keep.js";
import { Refused, seen, send } from "./send.js";

const LARGEST_PHOTO = 20_000_000;
const RETRY = 15_000;
const $ = (id) => document.getElementById(id);
const CHOSEN = ["programme", "fitout", "build", "against", "driver", "pressure-front", "pressure-rear", "weather"];

let choices = null; // of the programme: fit-outs, builds, sections, scales
let said = {}; // attribute: { verdict, mark }
let photos = [];
let correcting = null; // the sent entry that is corrected
let instead = null; // the refused entry that is written anew: its identity, and whether the server has it

// ---- small parts -------------------------------------------------------------------------------------------------

function make(tag, text = "", fields = {}) {
  const node = Object.assign(document.createElement(tag), fields);
  if (text) node.textContent = text;
  return node;
}

function fill(select, rows, wanted) {
  select.replaceChildren(...rows.map(([value, words]) => make("option", words, { value })));
  if (rows.some(([value]) => value === wanted)) select.value = wanted;
}

function say(text) {
  $("message").textContent = text;
  $("message").hidden = !text;
  if (text) $("message").scrollIntoView({ block: "center" });
}

function today() {
  const now = new Date();
  return [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((n) => String(n).padStart(2, "0")).join("-");
}

function scale() {
  return choices?.scales.find((s) => s.attribute === $("attribute").value);
}

function markWords(scale, mark) {
  const a = scale.anchors;
  return a[mark] ?? `${a[mark - 1]} … ${a[mark + 1] ?? "nothing left to wish"}`;
}

// ---- what is chosen once -----------------------------------------------------------------------------------------

async function openProgramme(wanted) {
  const list = (await seen("/api/programmes")).programmes;
  fill($("programme"), list.map((p) => [String(p.id), p.title ? `${p.name}, ${p.title}` : p.name]), String(wanted?.programme ?? ""));
  if (!list.length) throw new Refused(404, "there is no programme yet; make one in the workbench first");
  choices = await seen(`/api/programmes/${$("programme").value}/choices`);
  fill($("fitout"), choices.fitouts.map((f) => [f.name, f.title || f.name]), wanted?.fitout);
  const builds = choices.builds.map((b) => [b.name, b.title ? `${b.name}, ${b.title}` : b.name]);
  fill($("build"), [...builds].reverse(), wanted?.build);
  fill($("against"), [["", "nothing, marks only"], ...builds], wanted?.against ?? "stock");
  const sections = [["", "the whole loop"], ...choices.sections.map((s) => [s, s])];
  fill($("section"), sections, wanted?.section ?? choices.sections[0] ?? "");
  fill($("attribute"), choices.scales.map((s) => [s.attribute, s.title]), wanted?.attribute);
  $("drivers").replaceChildren(...choices.drivers.map((value) => make("option", "", { value })));
  if (!$("driver").value && choices.user) $("driver").value = choices.user;
  drawChoices("verdicts", choices.verdicts.map((v) => [v, v]), (v) => speak("verdict", v));
  drawChoices("marks", Array.from({ length: 10 }, (_, i) => [String(i + 1), String(i + 1)]), (v) => speak("mark", v ? Number(v) : null));
  showSetup();
  showSaid();
}

function showSetup() {
  const words = (id) => $(id).selectedOptions[0]?.textContent ?? "";
  const against = $("against").value ? ` against ${$("against").value}` : "";
  $("setup-words").textContent = choices
    ? `${words("programme").split(",")[0]}, ${words("fitout")}: ${$("build").value}${against}, ${$("driver").value || "no driver yet"}`
    : "choose programme, build and driver";
  $("verdict-legend").textContent = $("against").value ? `${$("build").value} against ${$("against").value}` : "Verdict: choose what it is compared with";
  for (const input of $("verdicts").querySelectorAll("input")) input.disabled = !$("against").value;
}

function keepDraft() {
  const chosen = Object.fromEntries([...CHOSEN, "section", "attribute"].map((id) => [id, $(id).value]));
  const draft = { said, photos, note: $("note").value, correcting, instead, why: $("why").value, withdrawn: $("withdrawn").checked };
  return Promise.all([keepThing("chosen", chosen), keepThing("draft", draft)]).catch(noRoom);
}

function noRoom() {
  say("This phone has no room to keep entries, or its browser forbids it (a private window does). Write it down until that is mended.");
}

// ---- what is said ------------------------------------------------------------------------------------------------

function drawChoices(id, rows, chosen) {
  const box = $(id).querySelector("div");
  box.replaceChildren(...rows.map(([value, words]) => {
    const label = make("label", "", { className: "choice" });
    const input = make("input", "", { type: "radio", name: id, value });
    input.addEventListener("change", () => chosen(value));
    input.addEventListener("click", () => { // a second tap takes it back
      if (input.dataset.was === "yes") { input.checked = false; chosen(null); }
      for (const other of box.querySelectorAll("input")) other.dataset.was = other.checked ? "yes" : "";
    });
    label.append(input, make("span", words));
    return label;
  }));
}

function speak(what, value) {
  const attribute = $("attribute").value;
  said[attribute] = { ...said[attribute], [what]: value };
  showSaid();
  keepDraft();
}

function showSaid() {
  const now = said[$("attribute").value] ?? {};
  for (const id of ["verdicts", "marks"]) {
    const value = id === "verdicts" ? now.verdict : now.mark;
    for (const input of $(id).querySelectorAll("input")) {
      input.checked = String(value ?? "") === input.value;
      input.dataset.was = input.checked ? "yes" : "";
    }
  }
  const one = scale();
  $("asks").textContent = one?.asks ?? "";
  if (one) $("anchor").textContent = now.mark ? `${now.mark}: ${markWords(one, now.mark)}` : `1: ${one.anchors[1]}\n9: ${one.anchors[9]}`;
  const rows = Object.entries(said).filter(([, s]) => s.verdict || s.mark);
  $("said").replaceChildren(...rows.map(([attribute, s]) => {
    const title = choices?.scales.find((x) => x.attribute === attribute)?.title ?? attribute;
    const row = make("li");
    const drop = make("button", "✕", { type: "button", ariaLabel: `Take back ${title}` });
    drop.addEventListener("click", () => { delete said[attribute]; showSaid(); keepDraft(); });
    row.append(make("span", `${title}: ${[s.verdict, s.mark].filter(Boolean).join(", ")}`), drop);
    return row;
  }));
}

function showPhotos() {
  for (const image of $("photos").querySelectorAll("img")) URL.revokeObjectURL(image.src);
  $("photos").replaceChildren(...photos.map((photo, i) => {
    const row = make("li");
    const drop = make("button", "✕", { type: "button", ariaLabel: `Take back ${photo.name}` });
    drop.addEventListener("click", () => { photos.splice(i, 1); showPhotos(); keepDraft(); });
    row.append(make("img", "", { src: URL.createObjectURL(photo.blob), alt: photo.name }), drop);
    return row;
  }));
}

async function addPhotos() {
  for (const file of $("photo").files) {
    if (!/^image\/(jpeg|png|webp|heic|heif)$/.test(file.type)) say(`${file.name} is no photo; JPEG, PNG, WebP and HEIC are taken.`);
    else if (file.size > LARGEST_PHOTO) say(`${file.name} has ${(file.size / 1e6).toFixed(0)} MB; a photo may have 20 MB. Take a smaller one.`);
    else photos.push({ name: plainName(file.name), blob: new Blob([await file.arrayBuffer()], { type: file.type }) });
  }
  $("photo").value = "";
  showPhotos();
  keepDraft();
}

/** A name that every system takes, with its ending. */
function plainName(name) {
  const ending = /\.[A-Za-z0-9]{1,5}$/.exec(name)?.[0] ?? "";
  const stem = name.slice(0, name.length - ending.length).replace(/[^\p{L}\p{N} _-]+/gu, "-").trim().slice(0, 60);
  return (stem || "photo") + ending;
}

// ---- keep and send -----------------------------------------------------------------------------------------------

function pressure(id, words) {
  const text = $(id).value.trim();
  if (!text) return null;
  const bar = Number(text.replace(",", ".").replace(/\s*bar$/, ""));
  if (!(bar >= 0.5 && bar <= 8)) throw new Refused(422, `The ${words} tyre pressure "${text}" is no pressure from 0.5 to 8 bar; write 2.4.`);
  return `${bar} bar`;
}

function drive() {
  const fields = { date: today(), driver: $("driver").value.trim(), build: $("build").value, fitout: $("fitout").value };
  if (!fields.driver) throw new Refused(422, "Say who drives, under Drive.");
  const front = pressure("pressure-front", "front"), rear = pressure("pressure-rear", "rear");
  if (!front !== !rear) throw new Refused(422, "Give the pressure of both axles, or of none.");
  if ($("against").value) fields.against = $("against").value;
  if (fields.against === fields.build) throw new Refused(422, "A build is not compared with itself; choose another one under Drive.");
  if (front) fields.tyre_pressure = { front, rear };
  if ($("weather").value.trim()) fields.weather = $("weather").value.trim();
  return { ...fields, ...spoken() };
}

function spoken() {
  const section = $("section").value ? { section: $("section").value } : {};
  const rows = (key, name) => Object.entries(said).filter(([, s]) => s[key]).map(([attribute, s]) => ({ ...section, attribute, [name]: s[key] }));
  const fields = { ...section };
  if ($("against").value && rows("verdict", "verdict").length) fields.verdicts = rows("verdict", "verdict");
  if (rows("mark", "mark").length) fields.ratings = rows("mark", "mark");
  if ($("note").value.trim()) fields.note = $("note").value.trim();
  return fields;
}

function correction() {
  const why = $("why").value.trim();
  if (!why) throw new Refused(422, "Say what was wrong with it.");
  const head = { date: today(), by: $("driver").value.trim() || "driver", corrects: correcting.name, why };
  if ($("withdrawn").checked) return { ...head, withdrawn: true };
  const now = drive();
  const fields = Object.fromEntries(Object.entries(now).filter(([k, v]) => k !== "date" && JSON.stringify(v) !== JSON.stringify(correcting.fields[k])));
  for (const key of Object.keys(correcting.fields)) if (!(key in now) && key !== "files") fields[key] = null;
  if (!Object.keys(fields).length) throw new Refused(422, "Nothing differs from what was sent; change what was wrong, or say that it does not count.");
  return { ...head, fields };
}

async function keep(event) {
  event.preventDefault();
  say("");
  let entry;
  try {
    if (!choices) throw new Refused(422, "No programme has been opened on this phone yet; open the page once with a connection.");
    const fields = correcting ? correction() : drive();
    if (!correcting && !fields.verdicts && !fields.ratings && !fields.note && !photos.length) throw new Refused(422, "Nothing has been said yet: a verdict, a mark, a note or a photo.");
    entry = { id: instead?.id ?? newId(), amends: instead?.amends ?? false, kept: Date.now(), programme: Number($("programme").value), part: correcting ? "corrections" : "drives", fields, photos, state: "waiting", problem: "" };
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    if (/who drives/.test(error.message)) $("setup").open = true;
    say(error.message);
    return;
  }
  try {
    await keepEntry(entry);
  } catch {
    noRoom();
    return;
  }
  clear();
  if (entry.part === "drives") nextSection(1);
  await show();
  $("keep").blur();
  $("section").closest(".steps").scrollIntoView();
  sendNow();
}

function clear() {
  said = {};
  photos = [];
  correcting = instead = null;
  $("note").value = $("why").value = "";
  $("withdrawn").checked = false;
  $("correcting").hidden = true;
  showSaid();
  showPhotos();
}

function nextSection(step) {
  const select = $("section");
  const count = select.options.length;
  if (count) select.selectedIndex = (select.selectedIndex + step + count) % count;
  keepDraft();
}

async function show() {
  const all = await entries();
  const waiting = all.filter((e) => e.state === "waiting").length, refused = all.filter((e) => e.state === "refused").length;
  const [shape, kind, words] = refused
    ? ["▲", "look", `${refused} refused, see below`]
    : waiting ? ["▲", "look", `kept here, ${waiting} to send`] : ["●", "answered", all.length ? "all sent" : "nothing to send"];
  $("state").className = kind;
  $("state").querySelector(".shape").textContent = shape;
  $("state").querySelector(".words").textContent = words;
  $("send").hidden = !waiting;
  $("kept").replaceChildren(...[...all].reverse().map(keptRow));
}

function keptRow(entry) {
  const row = make("li");
  const f = entry.fields;
  const what = entry.part === "corrections"
    ? `${f.withdrawn ? "withdraws" : "corrects"} ${f.corrects}: ${f.why}`
    : `${f.section ?? "the whole loop"}: ${f.build}${f.against ? ` against ${f.against}` : ""}`;
  const title = (a) => choices?.scales.find((s) => s.attribute === a)?.title ?? a;
  const words = new Map();
  for (const v of f.verdicts ?? []) words.set(v.attribute, [v.verdict]);
  for (const r of f.ratings ?? []) words.set(r.attribute, [...(words.get(r.attribute) ?? []), r.mark]);
  const heard = [...words].map(([a, said]) => `${title(a)} ${said.join(", ")}`);
  row.append(make("p", what, { className: "what" }));
  if (heard.length) row.append(make("p", heard.join("; ")));
  if (f.note) row.append(make("p", f.note));
  const state = { sent: `● sent as ${entry.name}, version ${entry.version}`, waiting: "▲ kept here, to send", refused: `▲ refused: ${entry.problem}` }[entry.state];
  row.append(make("p", `${state}`, { className: "state" }));
  if (entry.state === "sent" && entry.part === "drives") row.append(action("Correct", () => reopen(entry, true), `Correct ${entry.name}`));
  if (entry.state === "refused") row.append(action("Open it again", () => reopen(entry, false)));
  return row;
}

function action(words, work, label = "") {
  const button = make("button", words, { type: "button" });
  if (label) button.ariaLabel = label;
  button.addEventListener("click", work);
  return button;
}

function reopen(entry, sent) {
  clear();
  const f = entry.fields;
  if (sent) correcting = { name: entry.name, fields: f };
  else {
    instead = { id: entry.id, amends: entry.amends };
    photos = [...entry.photos];
    if (entry.part === "corrections") correcting = { name: f.corrects, fields: {} };
  }
  for (const v of f.verdicts ?? []) said[v.attribute] = { ...said[v.attribute], verdict: v.verdict };
  for (const r of f.ratings ?? []) said[r.attribute] = { ...said[r.attribute], mark: r.mark };
  for (const id of ["build", "fitout", "section", "driver", "weather", "note"]) if (f[id] !== undefined || id === "section" || id === "note") $(id).value = f[id] ?? "";
  $("against").value = f.against ?? "";
  $("why").value = f.why ?? "";
  showCorrecting();
  showSetup();
  showSaid();
  showPhotos();
  keepDraft();
  $(correcting ? "why" : "note").focus();
}

function showCorrecting() {
  $("correcting").hidden = !correcting;
  $("correcting-words").textContent = correcting ? `You correct ${correcting.name}. What was sent stays; this says what it should have been.` : "";
}

async function sendNow() {
  const stopped = await send(show).catch((error) => error);
  if (stopped instanceof Refused && stopped.status === 401) {
    say("Sign in to send; what is kept here stays.");
    $("message").append(make("a", "Sign in", { href: "/login?next=/phone" }));
  } else if (stopped instanceof Refused && stopped.status === 403) say(`Not sent: ${stopped.message}`);
  await show();
}

// ---- start -------------------------------------------------------------------------------------------------------

async function start() {
  try {
    const [chosen, draft] = await Promise.all([thing("chosen"), thing("draft")]);
    for (const id of CHOSEN) if (chosen?.[id] && $(id).tagName === "INPUT") $(id).value = chosen[id];
    if (draft) {
      ({ said, photos, correcting, instead } = draft);
      $("note").value = draft.note;
      $("why").value = draft.why;
      $("withdrawn").checked = draft.withdrawn;
    }
    await show();
    await openProgramme(chosen ?? {});
    showCorrecting();
    showPhotos();
    if (!$("driver").value) $("setup").open = true;
  } catch (error) {
    if (!(error instanceof Refused)) noRoom();
    else if (error.status === 401) {
      say("Sign in first.");
      $("message").append(make("a", "Sign in", { href: "/login?next=/phone" }));
    } else say(error.status ? error.message : "No connection yet, and this phone has not seen a programme: open the page once with a connection.");
  }
  document.documentElement.dataset.ready = "yes";
  sendNow();
}

for (const id of ["fitout", "build", "against", "driver", "pressure-front", "pressure-rear", "weather", "section", "note", "why", "withdrawn"])
  $(id).addEventListener("change", () => { showSetup(); keepDraft(); });
$("note").addEventListener("input", keepDraft);
$("programme").addEventListener("change", () => openProgramme({ programme: $("programme").value }).then(keepDraft, (error) => say(error.message)));
$("attribute").addEventListener("change", () => { showSaid(); keepDraft(); });
$("section-back").addEventListener("click", () => nextSection(-1));
$("section-next").addEventListener("click", () => nextSection(1));
$("photo").addEventListener("change", addPhotos);
$("entry").addEventListener("submit", keep);
$("send").addEventListener("click", sendNow);
$("stop-correcting").addEventListener("click", () => { clear(); keepDraft(); });
addEventListener("online", sendNow);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && sendNow());
setInterval(async () => { if ((await entries()).some((e) => e.state === "waiting")) sendNow(); }, RETRY);
if ("serviceWorker" in navigator) navigator.serviceWorker.register("/phone/sw.js", { scope: "/phone" });
navigator.storage?.persist?.();
start();
