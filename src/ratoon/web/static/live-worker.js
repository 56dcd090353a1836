// One for all tabs of a browser: asks the server whether a mill day was accounted, and tells them.
"use strict";

const EVERY = 4000, SLOWEST = 15000; // ms
const tabs = new Set();
let last = null, wait = EVERY, asking = false;

function tell(message) {
  for (const tab of tabs) tab.postMessage(message);
}

async function news() {
  // a connection that died while the machine slept is given up
  const answer = await fetch("/live", { cache: "no-store", redirect: "manual", signal: AbortSignal.timeout(SLOWEST) });
  if (answer.type === "opaqueredirect" || answer.status === 401 || answer.status === 403) return { out: true };
  if (!answer.ok) throw new Error(answer.statusText);
  return answer.json();
}

async function ask() {
  if (!tabs.size) {
    asking = false; // nobody listens; the next tab begins anew
    return;
  }
  try {
    last = await news();
    wait = EVERY;
  } catch {
    wait = Math.min(wait * 1.5, SLOWEST);
    last = { away: true };
  }
  tell(last);
  setTimeout(ask, wait);
}

onconnect = (event) => {
  const tab = event.ports[0];
  tabs.add(tab);
  tab.onmessage = () => tabs.delete(tab);
  if (asking) {
    if (last?.marks) tab.postMessage(last);
    return;
  }
  asking = true;
  ask();
};
