// Keeps a page's figures live: when its mill day is accounted again they are fetched anew. A page
// with boxes to type in, or with something opened to be read, is left alone and says that there is
// something new.
"use strict";

const day = document.body.dataset.day;
const notice = document.getElementById("live");
let mark = document.body.dataset.mark;

function say(text, address, words = "show") {
  notice.replaceChildren(text);
  if (address) {
    const link = document.createElement("a");
    link.href = address;
    link.textContent = words;
    notice.append(" ", link);
  }
  notice.hidden = !text;
}

async function renew(number) {
  const answer = await fetch(location.href);
  if (!answer.ok || answer.redirected) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  document.querySelector("main").replaceWith(fresh.querySelector("main"));
  dispatchEvent(new Event("renewed"));
  mark = number;
  say(`Figures of ${new Date().toTimeString().slice(0, 5)}: the day was accounted again.`);
}

function hear(news) {
  if (news.out) {
    say("You are signed out: this page is no longer live.", location.href, "sign in");
    notice.dataset.away = "yes";
    return;
  }
  if (news.away) {
    say("The server does not answer; the page tries again by itself.");
    notice.dataset.away = "yes";
    return;
  }
  if (notice.dataset.away) {
    delete notice.dataset.away;
    say("");
  }
  const number = String(news.marks[day] ?? mark);
  if (number !== mark) {
    if (document.querySelector("main form, main details[open]:not(.fold), main .opened")) say("This day was accounted again:", location.href);
    else renew(number).catch(() => {});
  } else if (news.newest > day && news.newest > document.body.dataset.newest) {
    say(`Mill day ${news.newest} is accounted:`, `/morning/${news.newest}`);
  }
}

let worker = null;

function connect() {
  worker = new SharedWorker("/static/live-worker.js");
  worker.port.onmessage = (event) => hear(event.data);
  worker.port.start();
}

if (day && mark) {
  if (window.SharedWorker) {
    connect();
    addEventListener("pagehide", () => worker.port.postMessage("gone"));
    addEventListener("pageshow", (event) => { if (event.persisted) connect(); }); // back by the browser's own memory
  } else {
    setInterval(() => fetch("/live").then((a) => a.json()).then(hear).catch(() => hear({ away: true })), 6000);
  }
}
