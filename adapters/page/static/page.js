// Follows the room: swaps the parts of the page that change, and keeps the finger where it is.
"use strict";

const form = document.getElementById("say");
const said = document.getElementById("said");
const lost = document.getElementById("lost");
let ahead = 0; // by how much the server's clock is ahead of ours, ms
let silence, failing, faded;
const waiting = new Map(); // what is new in a section in which somebody types, by the section

function lose(after) {
  return setTimeout(() => { lost.hidden = false; }, after);
}

function found() {
  clearTimeout(silence);
  clearTimeout(failing);
  failing = undefined;
  lost.hidden = true;
  silence = lose(40000); // the server says something every 15 s
}

function aloud(section, before) {
  for (const [mark, place] of [["data-alarm", "alarm"], ["data-say", "aloud"]]) {
    const words = [...section.querySelectorAll(`[${mark}]`)].map((one) => one.textContent.trim());
    const news = words.filter((one) => !before.includes(one));
    if (news.length) document.getElementById(place).textContent = news.join(" ");
  }
}

function swap(section, html) {
  const held = section.contains(document.activeElement) ? document.activeElement : null;
  if (held && held.tagName === "INPUT" && held.value !== held.defaultValue) {
    if (!waiting.has(section)) {
      held.addEventListener("blur", () => setTimeout(() => {
        if (waiting.has(section)) swap(section, waiting.get(section));
      }), { once: true });
    }
    waiting.set(section, html); // somebody types: the newest comes once they have finished
    return;
  }
  waiting.delete(section);
  const before = [...section.querySelectorAll("[data-alarm], [data-say]")].map((one) => one.textContent.trim());
  const fold = section.querySelector("details[data-fold]");
  const folded = held && held.tagName === "SUMMARY";
  section.innerHTML = html;
  unfold(section, fold);
  section.hidden = html === "";
  aloud(section, before);
  tick();
  if (!held) return;
  const same = folded ? section.querySelector("summary") : held.value && section.querySelector(`[name="${held.name}"][value="${CSS.escape(held.value)}"]`);
  const able = [...section.querySelectorAll("button"), ...document.querySelectorAll("section button")];
  const next = same || able.find((one) => !one.disabled && one.checkVisibility());
  if (next) next.focus();
}

function unfold(section, before) { // somebody's own hand counts until the page folds or opens it itself
  const after = section.querySelector("details[data-fold]");
  if (after && before && before.dataset.opens === String(after.open)) {
    after.dataset.opens = before.dataset.opens;
    after.open = before.open;
  } else if (after) {
    after.dataset.opens = String(after.open);
  }
}

function tick() {
  for (const clock of document.querySelectorAll("[data-ends]")) {
    const left = Math.max(0, Math.round((Number(clock.dataset.ends) - Date.now() - ahead) / 1000));
    const words = `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}`;
    if (clock.textContent !== words) clock.textContent = words;
  }
}

function follow() {
  const stream = new EventSource(`${location.pathname}/stream`);
  stream.addEventListener("hello", (event) => {
    const hello = JSON.parse(event.data);
    ahead = hello.now - Date.now();
    if (hello.version !== form.dataset.version) location.reload();
    found();
  });
  stream.addEventListener("part", (event) => {
    const { part, html } = JSON.parse(event.data);
    const section = document.querySelector(`[data-part="${part}"]`);
    if (section) swap(section, html);
    found();
  });
  stream.addEventListener("still", found);
  stream.addEventListener("error", () => {
    failing ??= lose(1500); // each further attempt that fails says so once more
    if (stream.readyState === EventSource.CLOSED) {
      stream.close();
      setTimeout(follow, 2000);
    }
  });
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const data = new URLSearchParams(new FormData(form, event.submitter));
  said.textContent = "…";
  try {
    const answer = await fetch(form.action, { method: "POST", body: data, headers: { Accept: "application/json" } });
    said.textContent = (await answer.json()).words;
    clearTimeout(faded);
    faded = setTimeout(() => { said.textContent = ""; }, 20000);
  } catch {
    said.textContent = lost.textContent;
    lose(0);
  }
});

document.querySelectorAll("section").forEach((section) => unfold(section));
setInterval(tick, 500);
tick();
follow();
