// Follows the room: swaps the parts of the page that change, and keeps the finger where it is.
"use strict";

const form = document.getElementById("say");
const said = document.getElementById("said");
const lost = document.getElementById("lost");
let ahead = 0; // by how much the server's clock is ahead of ours, ms
let silence, failing, faded;
let missed; // what had the focus in the section that has it now
let finger, lifted; // the section in which a finger or a key is down, and the timer that ends it
const waiting = new Map(); // what is new in a section in which somebody types or presses, by the section
const KEPT = `folds ${location.pathname}`;
const hands = keptFolds(); // whether somebody's own hand has unfolded (true) or folded something, by its name

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
  const types = held && held.tagName === "INPUT" && held.value !== held.defaultValue;
  if (types || section === finger) {
    waiting.set(section, html); // the newest comes once they have finished
    return;
  }
  waiting.delete(section);
  const before = [...section.querySelectorAll("[data-alarm], [data-say]")].map((one) => one.textContent.trim());
  noteFold(section);
  section.innerHTML = html;
  keepFold(section);
  section.hidden = html === "";
  if (held) keepFocus(section, held === section ? missed : held);
  fit();
  aloud(section, before);
  tick();
}

function keepFocus(section, held) { // on what had it; else on what stands there, so that Tab goes on from the same place
  const named = held.value && `[name="${held.name}"][value="${CSS.escape(held.value)}"]`;
  const same = held.tagName === "SUMMARY" ? section.querySelector("summary") : named && section.querySelector(named);
  if (same) same.focus();
  if (same && same === document.activeElement) return; // it can't have it while it is folded away or can't be pressed
  missed = held;
  const sections = [...document.querySelectorAll("section")];
  const place = sections.slice(sections.indexOf(section)).find((one) => !one.hidden) ?? said.parentElement;
  place.tabIndex = -1; // for this once, no place that a click reaches
  place.addEventListener("blur", () => place.removeAttribute("tabindex"), { once: true });
  place.focus();
}

function swapWaiting() {
  for (const [section, html] of [...waiting]) swap(section, html);
}

function lift(after) { // a press comes a moment after the finger has gone, and would miss what is swapped before
  clearTimeout(lifted);
  lifted = setTimeout(() => {
    finger = undefined;
    swapWaiting();
    fit();
  }, after);
}

function noteFold(section) { // what somebody's own hand has folded or unfolded stays so
  const fold = section.querySelector("details[data-fold]");
  if (fold && String(fold.open) !== fold.dataset.opens) hands.set(fold.dataset.fold, fold.open);
}

function keepFold(section) {
  const fold = section.querySelector("details[data-fold]");
  if (!fold) return;
  setFold(fold, hands.get(fold.dataset.fold) ?? fold.open);
  fold.dataset.room = fold.dataset.opens; // how it stands where there is room for everything
}

function setFold(fold, open) {
  fold.open = open;
  fold.dataset.opens = String(open);
}

function fit() { // what is needed least is folded first, and unfolded when there is room again
  if (finger) return;
  const mine = []; // what somebody has unfolded stays so
  for (const name of ["facts", "lights", "ways"]) {
    const fold = document.querySelector(`[data-fold="${name}"]`);
    if (!fold) continue;
    noteFold(fold.parentElement);
    if (!hands.has(name) && !fold.contains(document.activeElement)) mine.push(fold);
  }
  for (const fold of mine) setFold(fold, fold.dataset.room === "true");
  for (const fold of mine) {
    if (document.documentElement.scrollHeight > innerHeight) setFold(fold, false);
  }
}

function keptFolds() { // over a page that is opened anew in the same tab; a browser may keep nothing
  try {
    return new Map(JSON.parse(sessionStorage.getItem(KEPT) ?? "[]"));
  } catch {
    return new Map();
  }
}

function keepFolds() {
  document.querySelectorAll("section").forEach(noteFold);
  try {
    sessionStorage.setItem(KEPT, JSON.stringify([...hands]));
  } catch { /* then each page begins as it comes */ }
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
    faded = setTimeout(() => {
      said.textContent = "";
      fit();
    }, 20000);
  } catch {
    said.textContent = lost.textContent;
    lose(0);
  }
});

document.addEventListener("focusout", () => setTimeout(swapWaiting));
for (const begin of ["pointerdown", "keydown"]) document.addEventListener(begin, (event) => {
  finger = event.target.closest("section");
  lift(1000); // nobody presses for longer
});
for (const end of ["pointerup", "pointercancel", "keyup"]) document.addEventListener(end, () => lift(100));
addEventListener("pagehide", keepFolds);
for (const section of document.querySelectorAll("section")) {
  noteFold(section); // a finger may have been faster than this script
  keepFold(section);
}
fit();
setInterval(tick, 500);
tick();
follow();
