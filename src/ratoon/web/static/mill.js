// Says as it is typed what the mill file would not take.
"use strict";

const form = document.getElementById("mill");
const wrong = document.getElementById("wrong");
const WAIT = 350; // ms without a key
let timer = 0, asked = 0;

async function check() {
  const number = ++asked;
  try {
    const answer = await fetch(`/mill/${form.dataset.table}/check`, {
      method: "POST",
      headers: { "X-Form-Token": document.querySelector("meta[name=form-token]").content },
      body: new URLSearchParams(new FormData(form)),
    });
    if (answer.ok && number === asked) wrong.textContent = (await answer.json()).line;
  } catch { /* it is checked again when it is sent */ }
}

form.addEventListener("input", () => {
  clearTimeout(timer);
  timer = setTimeout(check, WAIT);
});
