// Solves again while a slider moves: the last move wins, an answer that comes late is dropped.
// What cannot be tried is told in a line; the figures stay, paler, until every box can be.
"use strict";

const WAIT = 60; // ms without a move before the plant is asked
const form = document.getElementById("try");
let asked = 0, timer = 0, running = null;

const boxes = [...form.querySelectorAll("input.box")];

// As the server reads it: a comma is a point, and nothing is not zero.
function number(box) {
  const text = box.value.trim();
  return text ? Number(text.replace(",", ".")) : NaN;
}

function address() {
  const query = new URLSearchParams();
  for (const box of boxes) {
    if (number(box) !== Number(box.dataset.day)) query.append(box.name, box.value);
  }
  for (const kept of form.querySelectorAll("input[name=case]")) query.append("case", kept.value);
  return form.getAttribute("action") + (query.size ? "?" + query : "");
}

function item(text, strong, why, kind) {
  const li = document.createElement("li");
  if (kind) li.className = kind;
  if (strong) {
    const b = document.createElement("b");
    b.textContent = strong;
    li.append(b, ": ");
  }
  li.append(text);
  if (why) {
    const span = document.createElement("span");
    span.className = "why";
    span.textContent = why;
    li.append(" ", span);
  }
  return li;
}

function refuse(line, addresses) {
  const p = document.getElementById("line");
  p.textContent = line && `${line}\nThe figures stay as last tried.`;
  p.hidden = !line;
  document.getElementById("figures").classList.toggle("older", line !== "");
  for (const box of boxes) {
    if (addresses.includes(box.name)) box.setAttribute("aria-invalid", "true");
    else box.removeAttribute("aria-invalid");
  }
}

function show(page) {
  refuse(page.line, Object.keys(page.refused));
  if (page.line) return;
  for (const group of [page.money, ...page.rows]) {
    for (const row of group.rows) {
      const tr = document.querySelector(`tr[data-row="${row.address}"]`);
      tr.querySelector("[data-value]").textContent = row.now.value;
      tr.querySelector("[data-difference]").textContent = row.now.difference;
    }
  }
  const changed = document.getElementById("changed");
  changed.hidden = page.changed.length === 0;
  changed.querySelector("span").textContent = page.changed.join("; ");
  document.getElementById("regimes").replaceChildren(...page.regimes.map(
    (r) => item(r.now, r.name, r.crossed ? `On the day: ${r.day}.` : "", r.crossed ? "crossed" : "")));
  document.getElementById("limits").replaceChildren(...page.limits.map((l) => item(l, "", "", "bad")));
}

async function solve() {
  const number = ++asked;
  if (running) running.abort();
  running = new AbortController();
  const here = address();
  try {
    const answer = await fetch(here + (here.includes("?") ? "&" : "?") + "format=json", { signal: running.signal });
    const page = await answer.json();
    if (number !== asked) return;
    if (!answer.ok) throw new Error(page.line || answer.statusText);
    show(page);
    if (!page.line) history.replaceState(null, "", here);
  } catch (error) {
    if (error.name === "AbortError" || number !== asked) return;
    refuse(`No answer: ${error.message}`, []);
  }
}

function mark(box) {
  box.closest(".control").classList.toggle("changed", number(box) !== Number(box.dataset.day));
}

document.documentElement.classList.add("live");
form.addEventListener("input", (event) => {
  const to = event.target;
  if (to.dataset.for) document.getElementById(to.dataset.for).value = to.value;
  else if (!Number.isNaN(number(to))) form.querySelector(`[data-for="${to.id}"]`).value = number(to);
  mark(to.dataset.for ? document.getElementById(to.dataset.for) : to);
  clearTimeout(timer);
  timer = setTimeout(solve, WAIT);
});
