// A model dropped anywhere on the page, or chosen: it is looked at, and its first figures are shown.

import { tell, words } from "./everywhere.js";

const LARGEST = 128 * 2 ** 20;
const choice = document.getElementById("model-file");
let busy = false;

function say(text, wrong = false) {
  let place = document.getElementById("dropped");
  if (!place) {
    place = document.createElement("p");
    place.id = "dropped";
    place.setAttribute("role", "alert");
    document.getElementById("content").prepend(place);
  }
  place.textContent = text;
  place.className = wrong ? "dropped wrong" : "dropped";
}

async function take(file) {
  if (busy || !file) return;
  if (file.size > LARGEST) {
    const size = Math.round(file.size / 2 ** 20);
    say(`${file.name}: ${words.large.replace("{size}", size).replace("{most}", LARGEST / 2 ** 20)}.`, true);
    return;
  }
  busy = true;
  document.body.classList.add("busy");
  say(`${file.name} …`);
  try {
    const answer = await fetch("/models", {
      method: "POST",
      body: file,
      headers: { "Content-Type": "application/octet-stream", "X-File-Name": encodeURIComponent(file.name) },
    });
    if (answer.ok) {
      location.assign((await answer.json()).go);
      return;
    }
    if (answer.status === 422) {
      const wrong = await answer.json();
      say(`${wrong.where}: ${wrong.what}; ${wrong.right}.`, true);
    } else {
      say(await answer.text(), true);
    }
  } catch {
    say(`${file.name}: ${words.unsent}.`, true);
  } finally {
    busy = false;
    document.body.classList.remove("busy");
  }
}

const carriesFiles = (event) => event.dataTransfer && [...event.dataTransfer.types].includes("Files");

document.addEventListener("dragover", (event) => {
  if (!carriesFiles(event)) return;
  event.preventDefault();
  document.body.classList.add("dropping");
});
document.addEventListener("dragleave", (event) => {
  if (!event.relatedTarget) document.body.classList.remove("dropping");
});
document.addEventListener("drop", (event) => {
  if (!carriesFiles(event)) return;
  event.preventDefault();
  document.body.classList.remove("dropping");
  if (event.dataTransfer.files.length > 1) tell(words.first);
  take(event.dataTransfer.files[0]);
});
choice?.addEventListener("change", () => take(choice.files[0]));
