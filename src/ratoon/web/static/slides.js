// Chooses crystals on the picture, splits along a drawn line, and shows each change at once.
// Without this script the same forms take numbers.
"use strict";

const FAR = 6; // px that a press moves before it is a line
let chosen = new Set(), begun = null, drawn = null, shown = location.pathname + location.search;

const find = (id) => document.getElementById(id);
const svg = () => document.querySelector("svg.slide");
const crystals = () => [...document.querySelectorAll("g.crystal")];

function choose(one) {
  const number = one.dataset.number;
  if (!chosen.delete(number)) chosen.add(number);
  one.setAttribute("aria-pressed", String(chosen.has(number)));
  find("crystals").value = [...chosen].join(" ");
}

function ready() {
  chosen = new Set();
  document.documentElement.classList.add("live");
  crystals().forEach((one, n) => {
    one.setAttribute("role", "button");
    one.setAttribute("aria-pressed", "false");
    one.setAttribute("aria-label", `crystal ${one.dataset.number}`);
    one.setAttribute("tabindex", n ? "-1" : "0"); // one stop for the whole picture: arrows go on
  });
  const picture = svg();
  picture.setAttribute("role", "group"); // its crystals are buttons now
  for (const [name, act] of [["pointerdown", press], ["pointermove", draw], ["pointerup", lift]]) picture.addEventListener(name, act);
}

async function show(address) {
  try {
    const answer = await fetch(address);
    if (!answer.ok && answer.status !== 422) throw new Error(answer.statusText);
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const held = document.querySelector(".scroll.slide"), inside = document.activeElement.closest(".scroll.slide");
    const at = held && [held.scrollLeft, held.scrollTop];
    find("main").replaceWith(page.getElementById("main"));
    if (answer.ok) history.pushState(null, "", answer.url);
    shown = location.pathname + location.search;
    ready();
    const now = document.querySelector(".scroll.slide");
    if (at) now.scrollTo(...at);
    if (inside) crystals()[0]?.focus();
  } catch { location.href = address; }
}

function send(act) {
  const form = find("changes"), query = new URLSearchParams(new FormData(form));
  query.set("act", act);
  show(`${form.getAttribute("action")}?${query}`);
}

function place(event) {
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg().getScreenCTM().inverse());
  return [Math.round(point.x), Math.round(point.y)];
}

function press(event) {
  if (event.button || event.pointerType === "touch" && !event.isPrimary) return;
  begun = { at: place(event), x: event.clientX, y: event.clientY, on: event.target.closest("g.crystal") };
}

function draw(event) {
  if (!begun || !event.buttons || Math.hypot(event.clientX - begun.x, event.clientY - begun.y) < FAR) return;
  if (!drawn) {
    drawn = document.createElementNS("http://www.w3.org/2000/svg", "line");
    drawn.setAttribute("class", "cut");
    drawn.setAttribute("pointer-events", "none");
    svg().append(drawn);
  }
  const [x, y] = place(event);
  for (const [name, v] of [["x1", begun.at[0]], ["y1", begun.at[1]], ["x2", x], ["y2", y]]) drawn.setAttribute(name, v);
}

function lift(event) {
  const start = begun;
  begun = null;
  if (!start) return;
  if (!drawn) {
    if (start.on) choose(start.on);
    return;
  }
  drawn.remove();
  drawn = null;
  const under = document.elementFromPoint((start.x + event.clientX) / 2, (start.y + event.clientY) / 2)?.closest("g.crystal");
  if (!under) return;
  find("crystals").value = under.dataset.number;
  find("line").value = [...start.at, ...place(event)].join(", ");
  send("split");
}

document.addEventListener("submit", (event) => {
  if (event.target.id !== "changes") return;
  event.preventDefault();
  send(event.submitter.value);
});

document.addEventListener("click", (event) => {
  if (event.target.id !== "undo" || event.ctrlKey || event.metaKey) return;
  event.preventDefault();
  show(event.target.href);
});

document.addEventListener("keydown", (event) => {
  const one = event.target.closest?.("g.crystal");
  if (!one || event.ctrlKey || event.metaKey || event.altKey) return;
  const all = crystals(), step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
  const act = { r: "reject", Delete: "reject", j: "join", s: "split" }[event.key];
  if (step) {
    const next = all[all.indexOf(one) + step];
    if (next) { one.setAttribute("tabindex", "-1"); next.setAttribute("tabindex", "0"); next.focus(); }
  } else if (event.key === " " || event.key === "Enter") choose(one);
  else if (act) {
    if (!chosen.size) choose(one);
    send(act);
  } else if (event.key === "u" && find("undo")) show(find("undo").href);
  else return;
  event.preventDefault();
});

// a word of the address behind its # leads within the page and is no other picture
addEventListener("popstate", () => { if (location.pathname + location.search !== shown) location.reload(); });
ready();
