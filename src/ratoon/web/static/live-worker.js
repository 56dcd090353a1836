// One for all tabs of a browser: asks the server whether a mill day was accounted, and tells them.
"use strict";

const EVERY = 4000, SLOWEST = 15000; // ms
const tabs = new Set();
let last = null, wait = EVERY;

function tell(message) {
  for (const tab of tabs) tab.postMessage(message);
}

async function ask() {
  try {
    const answer = await fetch("/live", { cache: "no-store" });
    if (!answer.ok) throw new Error(answer.statusText);
    last = await answer.json();
    wait = EVERY;
    tell(last);
  } catch {
    wait = Math.min(wait * 1.5, SLOWEST);
    tell({ away: true });
  }
  setTimeout(ask, wait);
}

onconnect = (event) => {
  const tab = event.ports[0];
  if (!tabs.size) ask();
  tabs.add(tab);
  tab.onmessage = () => tabs.delete(tab);
  if (last) tab.postMessage(last);
};
