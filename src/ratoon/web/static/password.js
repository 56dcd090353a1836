// Makes the passwords of a form readable while a box is ticked. Without this script there is no box.
"use strict";

for (const form of document.querySelectorAll("form.entry")) {
  const fields = [...form.querySelectorAll("input[type=password]")];
  const label = document.createElement("label");
  const box = document.createElement("input");
  box.type = "checkbox";
  box.addEventListener("change", () => {
    for (const field of fields) field.type = box.checked ? "text" : "password";
  });
  label.append(box, " Show what is typed");
  if (fields.length) form.querySelector("button").before(label);
}
