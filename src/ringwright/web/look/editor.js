// A text with numbered lines; what is wrong in it is told, line by line, while it is written.

for (const editor of document.querySelectorAll(".editor")) {
  const area = editor.querySelector("textarea");
  const told = editor.querySelector(".told-lines");
  const numbers = document.createElement("pre");
  numbers.className = "lines";
  numbers.setAttribute("aria-hidden", "true");
  const frame = document.createElement("div");
  frame.className = "frame";
  area.replaceWith(frame);
  frame.append(numbers, area);
  let wrong = new Set();
  let waiting = 0;
  let asked = 0;

  function draw() {
    const count = area.value.split("\n").length;
    numbers.replaceChildren();
    for (let line = 1; line <= count; line += 1) {
      const row = document.createElement("span");
      row.textContent = line;
      if (wrong.has(line)) row.className = "wrong";
      numbers.append(row);
    }
    numbers.scrollTop = area.scrollTop;
  }

  function go(line) {
    const lines = area.value.split("\n");
    const start = lines.slice(0, line - 1).join("\n").length + (line > 1 ? 1 : 0);
    area.focus();
    area.setSelectionRange(start, start + lines[line - 1].length);
    area.scrollTop = (area.scrollHeight / lines.length) * (line - 4);
  }

  async function check() {
    const mine = (asked += 1);
    const form = new URLSearchParams({ text: area.value, kind: area.dataset.kind, name: area.dataset.name });
    let found;
    try {
      const answer = await fetch("/check", { method: "POST", body: form });
      found = answer.ok ? await answer.json() : [];
    } catch {
      return;
    }
    if (mine !== asked) return;
    wrong = new Set(found.map((one) => one.line));
    told.replaceChildren(
      ...found.map((one) => {
        const row = document.createElement("li");
        if (one.line) {
          const link = document.createElement("button");
          link.type = "button";
          link.textContent = one.field ? `${one.line}: ${one.field}` : `${one.line}`;
          link.addEventListener("click", () => go(one.line));
          row.append(link, " ");
        }
        row.append(one.right ? `${one.what}; ${one.right}` : one.what);
        return row;
      }),
    );
    draw();
  }

  area.addEventListener("input", () => {
    draw();
    clearTimeout(waiting);
    waiting = setTimeout(check, 350);
  });
  area.addEventListener("scroll", () => (numbers.scrollTop = area.scrollTop));
  draw();
  check();
}
