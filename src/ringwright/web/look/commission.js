// A commission's page: a remark turns the ring to its place, a making tells how far it is, other pages' savings are told.

import { tell, words } from "./everywhere.js";

const path = location.pathname.replace(/\/$/, "");
const ring = document.getElementById("ring");
const news = document.getElementById("news");
const BUSY_MS = 300;
const IDLE_MS = 4000;

let steps = document.getElementById("steps");
let head = Number(steps.dataset.head);
let made = steps.dataset.made;
let figures = "";

function showScene() {
  ring.show(JSON.parse(steps.dataset.scene));
}

async function renew() {
  const answer = await fetch(`${path}/steps`);
  if (!answer.ok) return;
  const open = [...steps.querySelectorAll("details[open]")].map((one) => one.id).filter(Boolean);
  const focused = document.activeElement?.closest("details.step")?.id;
  const holder = document.createElement("template");
  holder.innerHTML = await answer.text();
  const fresh = holder.content.firstElementChild;
  const sceneBefore = steps.dataset.scene;
  steps.replaceWith(fresh);
  steps = fresh;
  for (const id of open) steps.querySelector(`#${CSS.escape(id)}`)?.setAttribute("open", "");
  if (focused) steps.querySelector(`#${CSS.escape(focused)} > summary`)?.focus();
  if (steps.dataset.scene !== sceneBefore) showScene();
}

async function look() {
  let next = IDLE_MS;
  try {
    const answer = await fetch(`${path}/making`);
    if (answer.status === 401 || answer.redirected) {
      location.reload();
      return;
    }
    const now = await answer.json();
    const job = now.job;
    const busy = job && !job.over;
    next = busy ? BUSY_MS : IDLE_MS;
    if (now.head !== head) {
      news.textContent = `${words.saved.replace("{number}", now.head).replace("{who}", now.by)} `;
      const again = document.createElement("a");
      again.href = path;
      again.textContent = words.show;
      news.append(again);
      head = now.head;
    }
    const there = job ? `${job.name}/${job.figures}/${job.over}` : "";
    if (now.made !== made || (job && there !== figures && (job.figures || job.over))) {
      if (figures || now.made !== made || job.over === false) await renew();
      if (figures && job?.over) tell(steps.querySelector(".summary h2")?.textContent ?? "");
      made = now.made;
    }
    figures = there;
    if (busy) {
      const holder = document.createElement("template");
      holder.innerHTML = job.html;
      const fresh = holder.content.firstElementChild;
      const old = document.getElementById("progress");
      if (old) {
        const held = old.contains(document.activeElement);
        old.replaceWith(fresh);
        if (held) fresh.querySelector("button")?.focus();
      }
    }
  } catch {
    news.textContent = words.silent;
    setTimeout(look, IDLE_MS);
    return;
  }
  if (news.textContent === words.silent) news.textContent = "";
  setTimeout(look, document.hidden ? IDLE_MS : next);
}

document.addEventListener("click", (event) => {
  const step = event.target.closest('a[href^="#step-"]');
  if (step) document.querySelector(step.hash)?.setAttribute("open", "");
  const place = event.target.closest("button.place");
  if (!place) return;
  for (const one of document.querySelectorAll("button.place[aria-pressed]")) one.removeAttribute("aria-pressed");
  place.setAttribute("aria-pressed", "true");
  ring.goTo(JSON.parse(place.dataset.point), place.dataset.place);
});

document.addEventListener("submit", async (event) => {
  // Beginning and stopping need no new page: the ring stays as it was turned.
  const form = event.target;
  if (!form.action.endsWith("/work") && !form.action.endsWith("/stop")) return;
  event.preventDefault();
  await fetch(form.action, { method: "POST", body: new URLSearchParams(new FormData(form)) });
  await renew();
  look();
});

showScene();
look();
