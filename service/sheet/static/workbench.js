// The workbench works without this file. With it: how far a plan has come is told, a file can be dropped, text copied.
"use strict";

const NEWS_BY_LINE = "application/x-ndjson";
const HEARD_EVERY = 3000; // ms: who listens to the page is told of changes no more often
const byId = (id) => document.getElementById(id);
let isBusy = false;
let leaving = null; // the work shown while another page is on its way

function setBusy(busy) {
  isBusy = busy;
  for (const button of document.querySelectorAll("button")) {
    if (busy) button.setAttribute("aria-disabled", "true");
    else button.removeAttribute("aria-disabled");
  }
}

function say(words) {
  byId("progress").textContent = words;
}

// Shows what is done with the seconds that pass; the seconds are shown and not heard.
function showWork(words) {
  const started = Date.now();
  let shown = words, best = "", heard = 0;
  const tell = () => {
    const line = best ? `${shown}: ${best}.` : `${shown} …`;
    byId("working-words").textContent = `${line} ${Math.round((Date.now() - started) / 1000)} s`;
    if (Date.now() - heard < HEARD_EVERY) return;
    heard = Date.now();
    say(line);
  };
  byId("progress").classList.add("heard");
  byId("working").hidden = false;
  byId("working").scrollIntoView({ block: "nearest" });
  setBusy(true);
  tell();
  const timer = setInterval(tell, 1000);
  return {
    news(told) {
      shown = told.step;
      best = told.best;
      if (told.gap !== null) byId("proven").value = 1 - told.gap;
      tell();
    },
    end(words) {
      clearInterval(timer);
      byId("progress").classList.remove("heard");
      byId("working").hidden = true;
      byId("proven").removeAttribute("value");
      setBusy(false);
      say(words);
    },
  };
}

// News until the line that holds the page.
async function pageAfterNews(answer, news) {
  const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
  for (let rest = ""; ;) {
    const { done, value } = await reader.read();
    if (done) throw new Error("the last line is missing");
    const lines = (rest + value).split("\n");
    rest = lines.pop();
    for (const told of lines.map((line) => JSON.parse(line))) {
      if (told.page) return told.page;
      news(told);
    }
  }
}

async function planInPlace(form, submitter) {
  const sent = new FormData(form);
  if (submitter && submitter.name) sent.append(submitter.name, submitter.value);
  const work = showWork(form.dataset.busy);
  try {
    const answer = await fetch(form.action, { method: "POST", body: sent, headers: { Accept: NEWS_BY_LINE } });
    const kind = answer.headers.get("Content-Type") || "";
    const isPage = kind.startsWith("text/html");
    if (!isPage && !kind.startsWith(NEWS_BY_LINE)) throw new Error("no page");
    const page = isPage ? await answer.text() : await pageAfterNews(answer, work.news);
    work.end("");
    document.body.replaceWith(new DOMParser().parseFromString(page, "text/html").body);
    start();
  } catch {
    work.end(form.dataset.lost);
  }
}

function onSubmit(event) {
  const form = event.target;
  if (event.submitter && event.submitter.value === "download") return; // the page stays as it is
  if (isBusy) event.preventDefault();
  else if (form.dataset.lost) {
    event.preventDefault();
    planInPlace(form, event.submitter);
  } else leaving = showWork(form.dataset.busy);
}

function takeDroppedFile(drop) {
  drop.addEventListener("dragover", (event) => event.preventDefault());
  drop.addEventListener("drop", (event) => {
    event.preventDefault();
    if (!event.dataTransfer.files.length) return;
    const input = drop.querySelector("input");
    input.files = event.dataTransfer.files;
    input.form.requestSubmit();
  });
}

async function copy(button) {
  await navigator.clipboard.writeText(byId(button.dataset.copy).textContent);
  say(`${button.textContent} ✓`);
}

// What a new page needs, whether it was loaded or put in place.
function start() {
  for (const form of document.querySelectorAll("form[data-busy]")) form.addEventListener("submit", onSubmit);
  for (const drop of document.querySelectorAll(".drop")) takeDroppedFile(drop);
  for (const button of document.querySelectorAll("[data-copy]")) button.addEventListener("click", () => copy(button));
  const result = byId("plan") || byId("problem") || byId("understood");
  if (!result) return;
  result.setAttribute("tabindex", "-1");
  result.focus();
}

document.documentElement.classList.add("scripted");
start();

window.addEventListener("pageshow", () => {
  if (leaving) leaving.end(""); // come back to from the history
});
