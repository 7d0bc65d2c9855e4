// The page: tells the keeper what is asked, and puts in what comes back. What is told comes from the server.
import { Cloak } from "./cloak.js";
import { holdPoints } from "./flat.js";
import { layPhotograph } from "./photo.js";

const told = document.getElementById("told");
const lost = document.getElementById("line-lost");
const cloak = new Cloak(document.getElementById("cloak"));
const waiting = new Map(); // what was sent and not answered yet
let socket, number = 0, toldTimer;

function say(words) {
  told.textContent = words;
  clearTimeout(toldTimer);
  toldTimer = setTimeout(() => { told.textContent = ""; }, 8000);
}

export function send(said) {
  const one = { ...said, number: ++number };
  return new Promise((resolve) => {
    waiting.set(one.number, { one, resolve });
    if (socket.readyState === WebSocket.OPEN) socket.send(JSON.stringify(one));
  });
}

function connect() {
  socket = new WebSocket(`ws://${location.host}/line`);
  socket.binaryType = "arraybuffer";
  socket.onopen = () => {
    lost.hidden = true;
    for (const { one } of waiting.values()) socket.send(JSON.stringify(one));
  };
  socket.onmessage = ({ data }) => (typeof data === "string" ? take(JSON.parse(data)) : cloak.take(data));
  socket.onclose = () => { lost.hidden = false; setTimeout(connect, 1500); };
}

function take(said) {
  for (const [name, html] of Object.entries(said.parts ?? {})) put(name, html);
  if ("done" in said) {
    waiting.get(said.done)?.resolve(said);
    waiting.delete(said.done);
    if (said.refused) say(said.refused);
  }
}

// --- parts put in without losing what is being typed --------------------------------------------

function put(name, html) {
  const home = document.querySelector(`[data-part="${name}"]`);
  const made = document.createElement("template");
  made.innerHTML = html;
  blend(home, made.content);
  if (name === "entries") cloak.laidOver(document.querySelector("[data-laid]") !== null);
}

function blend(old, now) {
  const was = [...old.childNodes], next = [...now.childNodes];
  next.forEach((node, k) => {
    const here = was[k];
    if (!here) old.append(node);
    else if (here.nodeType !== node.nodeType || here.nodeName !== node.nodeName || here.id !== node.id) here.replaceWith(node);
    else if (node.nodeType === Node.TEXT_NODE) { if (here.data !== node.data) here.data = node.data; }
    else if (node.nodeType === Node.ELEMENT_NODE) blendOne(here, node);
  });
  was.slice(next.length).forEach((node) => node.remove());
}

function blendOne(here, node) {
  const busy = here === document.activeElement;
  for (const { name } of [...here.attributes]) if (!node.hasAttribute(name) && !(name === "open" || (name === "class" && here.classList.contains("held")))) here.removeAttribute(name);
  for (const { name, value } of [...node.attributes]) if (here.getAttribute(name) !== value && !(name === "class" && here.classList.contains("held"))) here.setAttribute(name, value);
  blend(here, node);
  if (busy) return;
  if (here.nodeName === "TEXTAREA") here.value = node.textContent;
  if (here.nodeName === "INPUT" && here.type !== "file" && here.name !== "width_cm") here.value = node.getAttribute("value") ?? "";
  if (here.nodeName === "SELECT" && !here.closest("form") && here.value !== node.value) here.value = node.value;
}

// --- what is asked --------------------------------------------------------------------------------

const TYPED = '[data-part="order"] :is(input, textarea), [data-part="tape"] input';
const late = new Map(); // fields being typed in, told a moment after the last letter
function typed(field, at) {
  clearTimeout(late.get(field.name));
  late.set(field.name, setTimeout(() => { late.delete(field.name); send({ do: "type", name: field.name, text: field.value }); }, at));
}

document.addEventListener("input", ({ target }) => {
  if (target.matches(TYPED)) typed(target, 450);
});
document.addEventListener("change", ({ target }) => {
  if (target.matches("select[data-do]")) send({ do: target.dataset.do, name: target.value });
  else if (target.matches('[data-part="order"] select')) typed(target, 0);
  else if (target.matches(TYPED) && late.has(target.name)) typed(target, 0);
  else if (target.id === "take-file" && target.files[0]) takeFile(target.files[0]);
});
document.addEventListener("click", ({ target }) => {
  const button = target.closest("button");
  if (!button) return;
  const asked = button.dataset;
  if (asked.do) send({ do: asked.do, ...(asked.number ? { of: Number(asked.number) } : {}), file: asked.file });
  if (asked.turn) cloak.turnTo(Number(asked.turn));
  if (asked.near) cloak.near();
  if (asked.place) { cloak.goTo(asked.place.split(" ").map(Number), asked.number); document.getElementById("sits").scrollIntoView(); document.getElementById("cloak").focus({ preventScroll: true }); }
  if (asked.print) { document.body.classList.toggle("print-sheet", asked.print === "sheet"); print(); }
});
document.addEventListener("submit", (event) => {
  event.preventDefault();
  const { how, doing } = event.target.elements;
  if (event.target.dataset.form === "wear") send({ do: "wear", how: how.value, doing: doing.value });
  if (event.target.dataset.form === "tests") {
    const { name, ...readings } = Object.fromEntries(new FormData(event.target));
    send({ do: "tests", name, readings });
    document.querySelector('[data-part="order"]').scrollIntoView({ block: "end" });
  }
  if (event.target.dataset.form === "cut") send({ do: "cut", width_cm: event.target.elements.width_cm.value });
});
window.addEventListener("beforeprint", () => cloak.draw());
window.addEventListener("afterprint", () => document.body.classList.remove("print-sheet"));

async function takeFile(file) {
  const most = /\.(svg|dxf)$/i.test(file.name) ? 3000000 : 200000;
  if (file.size > most) return say(`${file.name}: got ${file.size} bytes, allowed ${most}. Is it the right file?`);
  send({ do: "take", file: file.name, text: await file.text() });
}
document.addEventListener("dragover", (event) => { event.preventDefault(); document.getElementById("drop")?.classList.add("over"); });
document.addEventListener("dragleave", () => document.getElementById("drop")?.classList.remove("over"));
document.addEventListener("drop", (event) => {
  event.preventDefault();
  document.getElementById("drop")?.classList.remove("over");
  if (event.dataTransfer.files[0]) takeFile(event.dataTransfer.files[0]);
});

connect();
holdPoints(document.querySelector('[data-part="draft"]'), send);
layPhotograph(cloak);
