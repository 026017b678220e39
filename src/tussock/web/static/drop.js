// Boxes that take files: chosen or dropped, sent one by one over the REST interface with their progress in sight.
// Each `.drop` says in `data-to` where its files go, in `data-kinds` what is taken, by the end of a name, and in
// `data-open` which page follows. What is wrong with a file is said before anything of it is sent.

let token = null;

async function session(anew) {
  if (anew || !token) token = (await (await fetch("/api/session", { cache: "no-store" })).json()).token;
  return token;
}

function megabytes(bytes) {
  return `${(bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0)} MB`;
}

/** Why a file is not taken, in words; "" for one that is. */
function refusal(file, kind, box) {
  if (!kind) return `Not sent: this kind of file is not taken. ${box.dataset.taken}.`;
  if (file.size > kind.most) return `Not sent: it has ${megabytes(file.size)}, and a ${kind.words} at most ${megabytes(kind.most)}.`;
  if (!file.size) return "Not sent: it is empty.";
  return "";
}

function post(address, file, type, secret, shown) {
  return new Promise((done) => {
    const request = new XMLHttpRequest();
    request.open("POST", address);
    request.responseType = "json";
    request.setRequestHeader("Content-Type", type);
    request.setRequestHeader("X-Tussock-Token", secret);
    request.upload.addEventListener("progress", (e) => shown(e.loaded, e.total));
    request.addEventListener("load", () => done({ status: request.status, body: request.response }));
    for (const end of ["error", "abort", "timeout"]) request.addEventListener(end, () => done({ status: 0, body: null }));
    request.send(file);
  });
}

function row(box, file) {
  const item = document.createElement("li");
  const name = document.createElement("b");
  name.textContent = file.name;
  const bar = document.createElement("progress");
  bar.max = 1;
  bar.value = 0;
  bar.setAttribute("aria-label", `${file.name}: sent`);
  const says = document.createElement("span");
  says.setAttribute("role", "status");
  item.append(name, bar, says);
  box.querySelector("ul").append(item);
  return { item, bar, says };
}

function end(parts, words, wrong) {
  parts.bar.remove();
  parts.says.textContent = words;
  parts.item.classList.toggle("wrong", wrong);
}

function again(box, file, parts) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "quiet";
  button.textContent = "Send again";
  button.addEventListener("click", () => { parts.item.remove(); send(box, file); });
  parts.item.append(button);
}

async function send(box, file) {
  const parts = row(box, file);
  const kinds = JSON.parse(box.dataset.kinds);
  const kind = kinds[`.${file.name.split(".").pop().toLowerCase()}`];
  const why = refusal(file, kind, box);
  if (why) return end(parts, why, true);
  const address = `${box.dataset.to}?${new URLSearchParams({ name: file.name.slice(-240) })}`;
  const shown = (sent, whole) => {
    parts.bar.value = whole ? sent / whole : 0;
    parts.says.textContent = `${megabytes(sent)} of ${megabytes(whole)}`;
  };
  let answer = { status: 0, body: null };
  try {
    answer = await post(address, file, kind.type, await session(false), shown);
    if (answer.status === 403) answer = await post(address, file, kind.type, await session(true), shown);
  } catch { /* no connection: said below */ }
  if (answer.status >= 200 && answer.status < 300) {
    end(parts, "Taken.", false);
    box.dispatchEvent(new CustomEvent("kept", { detail: { ...answer.body, called: file.name }, bubbles: true }));
    return answer.body;
  }
  const words = answer.status ? answer.body?.error?.message ?? `the server answered ${answer.status}` : "no connection to the server";
  end(parts, `Not taken: ${words}`, true);
  if (!answer.status || answer.status >= 500) again(box, file, parts);
}

async function sendAll(box, files) {
  box.querySelector("ul").replaceChildren();
  let last = null;
  for (const file of files) last = (await send(box, file)) ?? null;
  if (box.dataset.open && last && files.length === 1) window.location.assign(box.dataset.open.replace("{programme}", last.programme));
}

document.addEventListener("change", (e) => {
  const box = e.target.matches?.(".drop input[type=file]") ? e.target.closest(".drop") : null;
  if (!box) return;
  const files = [...e.target.files];
  e.target.value = "";
  sendAll(box, files);
});
for (const kind of ["dragenter", "dragover", "dragleave", "drop"]) {
  document.addEventListener(kind, (e) => {
    if (!e.dataTransfer?.types.includes("Files")) return;
    e.preventDefault(); // a file that misses the box must not take the place of the page
    const box = e.target.closest?.(".drop");
    for (const other of document.querySelectorAll(".drop.over")) if (other !== box) other.classList.remove("over");
    box?.classList.toggle("over", kind === "dragenter" || kind === "dragover");
    if (kind === "drop" && box) sendAll(box, [...e.dataTransfer.files]);
  });
}
