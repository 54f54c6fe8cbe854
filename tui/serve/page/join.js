"use strict";
// The key comes behind "#" of the link, or is typed. It is sent in a body, never in an address.
const said = document.getElementById("said");
const field = document.getElementById("key");

// A browser that was let in before, and came here by a link in another site or program, is shown this page
// although it may look: its cookie goes along only from here.
async function letInBefore() {
  const page = await (await fetch("./", { cache: "no-store" })).text();
  return page.includes('id="terminal"');
}

async function enter(key) {
  if (await letInBefore()) {
    location.replace("./");
    return;
  }
  const answer = await fetch("enter", { method: "POST", body: key, cache: "no-store" });
  if (answer.ok) {
    location.replace("./");
    return;
  }
  said.textContent = await answer.text();
  field.focus();
}

document.getElementById("join").addEventListener("submit", (event) => {
  event.preventDefault();
  enter(field.value).catch(() => { said.textContent = "The program does not answer."; });
});

if (location.hash.length > 1) {
  field.value = decodeURIComponent(location.hash.slice(1));
  history.replaceState(null, "", location.pathname);
  document.getElementById("join").requestSubmit();
}
