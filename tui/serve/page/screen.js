"use strict";
// Sets up what the terminal's script finds when the page is loaded.
const LEAST_PX = 12;
const MOST_PX = 22;
const WANTED_COLUMNS = 100;
const LEAST_COLUMNS = 60;
const CELL_BY_HEIGHT = 0.6; // a character's width over its size, in the page's font

const terminal = document.getElementById("terminal");

function fontSize() {
  // As large as lets the wanted columns in, never too small to read at arm's length, and on a narrow
  // phone no larger than lets in what the dashboard needs.
  const wanted = Math.floor(innerWidth / WANTED_COLUMNS / CELL_BY_HEIGHT);
  const widest = Math.floor(innerWidth / LEAST_COLUMNS / CELL_BY_HEIGHT);
  return Math.min(Math.max(wanted, Math.min(LEAST_PX + 2, widest), LEAST_PX), MOST_PX);
}

const light = matchMedia("(prefers-color-scheme: light)").matches ? "light" : "dark";
document.body.classList.add(light);
terminal.dataset.fontSize = String(fontSize());
terminal.dataset.sessionWebsocketUrl = `ws://${location.host}/live/${light}`;

function again() {
  location.reload();
}

document.getElementById("again").addEventListener("click", again);

// A phone that slept has lost its line: it looks again by itself when it is looked at again.
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible" && document.body.classList.contains("-closed")) again();
});

// Keys are on the screen to be tapped; the phone's own keyboard would hide half of it.
addEventListener("load", () => {
  if (!matchMedia("(pointer: coarse)").matches) return;
  for (const area of document.querySelectorAll(".xterm-helper-textarea")) area.inputMode = "none";
});
