// Keeps what is typed as a draft, works results as they are typed, and moves with Enter and arrows.
// What is sent waits in this browser until a page shows that it is on record: a server that stops
// at any moment loses none of it, and nothing is kept twice.
"use strict";

const form = document.getElementById("laboratory");
const boxes = [...form.querySelectorAll("table.lab input")];
const reason = document.getElementById("reason");
const saved = document.getElementById("saved");
const desk = `/${form.dataset.desk}/${form.dataset.date}`;
// Each tab has a place of its own in this browser: none takes away what another has sent.
const ours = `ratoon draft ${form.dataset.desk} ${form.dataset.date} ${form.dataset.round} ${form.dataset.who}`;
const place = `${ours} ${crypto.randomUUID?.() ?? Math.random()}`;
const touched = new Set();
const WAIT = 350; // ms without a key before the draft is kept
const KIND = " kind"; // no box is called so
let timer = 0, again = 0, asked = 0, repeated = false;

function typed() {
  const found = {};
  for (const box of [...boxes, ...(reason ? [reason] : [])]) if (box.value.trim()) found[box.name] = box.value.trim();
  return found;
}

// What was typed here and what was emptied here: the rest of the draft is another tab's.
function changed() {
  const found = typed();
  return Object.fromEntries([...touched].map((name) => [name, found[name] ?? ""]));
}

async function keep() {
  const text = JSON.stringify(typed());
  try {
    const answer = await fetch(`${desk}/draft?round=${encodeURIComponent(form.dataset.round)}`, {
      method: "POST",
      headers: { "X-Form-Token": document.querySelector("meta[name=form-token]").content },
      body: new URLSearchParams(changed()),
    });
    if (answer.status === 401 || answer.status === 403) {
      localStorage.setItem(place, text);
      saved.textContent = "You are signed out: the draft is kept in this browser. Sign in again and open this page";
      return;
    }
    if (!answer.ok) throw new Error(answer.statusText);
    localStorage.removeItem(place);
    saved.textContent = "Draft kept";
  } catch {
    localStorage.setItem(place, text);
    saved.textContent = "No answer: the draft is kept in this browser";
    clearTimeout(again);
    again = setTimeout(keep, 3000);
  }
}

async function work() {
  if (!form.querySelector("[data-worked]")) return;
  const number = ++asked;
  const query = new URLSearchParams();
  for (const box of boxes) {
    const value = box.value.trim() || box.dataset.stands;
    if (value) query.append(box.name, value);
  }
  try {
    const answer = await fetch(`${desk}/worked?${query}`);
    if (!answer.ok || number !== asked) return;
    const results = await answer.json();
    for (const cell of form.querySelectorAll("[data-worked]")) cell.textContent = results[cell.dataset.worked] ?? "\u2013";
  } catch { /* the draft says that there is no answer */ }
}

function look(box) {
  const value = Number(box.value.replace(",", "."));
  let words = Number.isNaN(value) ? "not a number" : "";
  for (const [told, span] of [["outside the usual range", box.dataset.ever], ["the last days had", box.dataset.usual]]) {
    const [low, high] = span.split(" to ").map(Number);
    const odd = box.value.trim() !== "" && Number.isFinite(high) && !Number.isNaN(value) && !(value >= low && value <= high);
    if (odd && !words) words = `${`${told} ${span} ${box.dataset.unit}`.trim()}: look again`;
  }
  box.classList.toggle("unusual", words !== "");
  document.getElementById(`u-${box.id}`).textContent = words;
}

function move(event) {
  const step = { Enter: 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
  const at = boxes.indexOf(event.target);
  if (!step || at < 0 || event.ctrlKey) return;
  event.preventDefault();
  const next = boxes[at + step];
  if (next) { next.focus(); next.select(); }
}

// A figure that the page has on record was kept, a repeat where it is among the results beside it.
function isKept(box, value) {
  const number = (text) => Number(text.replace(",", "."));
  const beside = repeated ? box.dataset.standsBy : "";
  const results = `${box.dataset.stands} ${beside}`.match(/-?\d+(?:[.,]\d+)?(?:e-?\d+)?/g) ?? [];
  return results.some((text) => number(text) === number(value));
}

const waiting = {};
for (const key of Object.keys(localStorage).filter((one) => one === ours || one.startsWith(`${ours} `))) {
  const sent = JSON.parse(localStorage.getItem(key) ?? "{}");
  repeated = sent[KIND] === "repeat";
  for (const [name, value] of Object.entries(sent)) {
    const box = form.elements[name];
    if (!box || (box.dataset.stands !== undefined && isKept(box, value))) continue;
    waiting[name] = value;
    if (!box.value) box.value = value;
  }
  localStorage.removeItem(key);
}
if (Object.keys(waiting).some((name) => name !== "reason") && boxes.length) {
  for (const name of Object.keys(waiting)) touched.add(name);
  localStorage.setItem(place, JSON.stringify(waiting));
  keep();
  work();
}

form.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && event.ctrlKey) {
    event.preventDefault();
    form.requestSubmit(form.querySelector("button[value=keep]"));
  } else move(event);
});
form.addEventListener("submit", () => {
  clearTimeout(timer);
  clearTimeout(again);
  localStorage.setItem(place, JSON.stringify({ ...typed(), [KIND]: document.getElementById("kind")?.value }));
});
form.addEventListener("input", (event) => {
  if (event.target.name) touched.add(event.target.name);
  if (event.target.dataset.usual !== undefined) look(event.target);
  clearTimeout(timer);
  timer = setTimeout(() => { keep(); work(); }, WAIT);
});
