// The workbench works without this file. With it: the time that passes is told, a file can be dropped, text copied.
"use strict";

document.documentElement.classList.add("scripted");
const progress = document.getElementById("progress");

function tellTime(words) {
  const started = Date.now();
  const tell = () => {
    progress.textContent = `${words} … ${Math.round((Date.now() - started) / 1000)} s`;
  };
  tell();
  return setInterval(tell, 1000);
}

for (const form of document.querySelectorAll("form[data-busy]")) {
  form.addEventListener("submit", (event) => {
    if (event.submitter && event.submitter.value === "download") return; // the page stays as it is
    progress.scrollIntoView({ block: "nearest" });
    tellTime(form.dataset.busy);
    for (const button of document.querySelectorAll("button")) button.setAttribute("aria-disabled", "true");
  });
}

window.addEventListener("pageshow", () => {
  progress.textContent = "";
  for (const button of document.querySelectorAll("button")) button.removeAttribute("aria-disabled");
});

const drop = document.querySelector(".drop") || document.createElement("p");
drop.addEventListener("dragover", (event) => event.preventDefault());
drop.addEventListener("drop", (event) => {
  event.preventDefault();
  if (!event.dataTransfer.files.length) return;
  const input = drop.querySelector("input");
  input.files = event.dataTransfer.files;
  input.form.requestSubmit();
});

for (const button of document.querySelectorAll("[data-copy]")) {
  button.addEventListener("click", async () => {
    await navigator.clipboard.writeText(document.getElementById(button.dataset.copy).textContent);
    progress.textContent = `${button.textContent} ✓`;
  });
}

const result = document.getElementById("plan") || document.getElementById("problem") || document.getElementById("understood");
if (result) {
  result.setAttribute("tabindex", "-1");
  result.focus();
}
