// Opens a figure's working beneath the figure; without this script the same link leads to its page.
// The stroke key leads to the box of the bar. Parts of a sheet that a person shut stay shut for that
// person in this browser; on a phone they begin shut, and on paper all are open.
"use strict";

function heading(article) {
  const title = article.querySelector("h1");
  const lower = document.createElement("h2");
  lower.append(...title.childNodes);
  title.replaceWith(lower);
}

function place(link, article) {
  const row = link.closest("tr");
  if (!row) {
    const box = document.createElement("div");
    box.className = "opened working";
    box.append(...article.childNodes);
    const near = link.closest("dl, li, p, figure, h3");
    if (near.tagName === "LI") near.append(box);
    else near.after(box);
    return box;
  }
  const opened = document.createElement("tr");
  opened.className = "opened working";
  const cell = opened.insertCell();
  cell.colSpan = row.cells.length;
  cell.append(...article.childNodes);
  row.after(opened);
  return opened;
}

const open = new Map();

function shut(link) {
  open.get(link).remove();
  open.delete(link);
  link.setAttribute("aria-expanded", "false");
}

async function show(link) {
  const answer = await fetch(link.href);
  if (!answer.ok) throw new Error(answer.statusText);
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const article = page.querySelector("article.working");
  heading(article);
  open.set(link, place(link, article));
  link.setAttribute("aria-expanded", "true");
}

document.addEventListener("click", (event) => {
  const link = event.target.closest("a.opens");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
  event.preventDefault();
  if (open.has(link)) shut(link);
  else show(link).catch(() => { location.href = link.href; });
});

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") for (const link of [...open.keys()]) shut(link);
  const box = document.querySelector("#find");
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey || !box) return;
  if (event.target.closest("input, textarea, select")) return;  // there it is a letter
  event.preventDefault();
  box.select();
});

// Signing out leaves nothing typed in this browser for the next at the bench.
document.querySelector("form.me")?.addEventListener("submit", () => {
  for (const key of Object.keys(localStorage)) if (key.startsWith("ratoon draft ")) localStorage.removeItem(key);
});

const NARROW = 720; // px
const folds = () => document.querySelectorAll("details.fold");
const kept = `folds of ${document.body.dataset.person || ""}`;

function remembered() {
  try {
    return JSON.parse(localStorage.getItem(kept)) || {};
  } catch {
    return {}; // a browser that keeps nothing
  }
}

function fold() {
  const was = remembered();
  for (const part of folds()) part.open = was[part.id] ?? innerWidth > NARROW;
}

if (folds().length) {
  fold();
  addEventListener("renewed", fold);
  addEventListener("beforeprint", () => folds().forEach((part) => { part.open = true; }));
  addEventListener("afterprint", fold);
  document.addEventListener("click", (event) => {
    const part = event.target.closest("summary")?.parentElement;
    if (part?.classList.contains("fold"))
      try {
        localStorage.setItem(kept, JSON.stringify({ ...remembered(), [part.id]: !part.open }));
      } catch {} // nothing is remembered then
    const wanted = event.target.closest('.brief a[href^="#"]');
    if (wanted) document.querySelector(`details${wanted.hash}`)?.setAttribute("open", "");
  });
}
