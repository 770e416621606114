// The packing desk improves in place: it begins the search, asks how far it is, and takes each better plan in.
const EVERY = 1000;
const desk = () => document.getElementById("desk");

async function fetched(address) {
  const answer = await fetch(address, { headers: { Accept: "text/html" }, credentials: "same-origin" });
  if (!answer.ok) throw new Error(`${answer.status}`);
  return answer;
}

// The page as the server has it now, put in place of the old; what was opened stays open, and focus stays where it was.
async function renew() {
  const text = await (await fetched(location.href)).text();
  const fresh = new DOMParser().parseFromString(text, "text/html").getElementById("desk");
  if (!fresh) return;
  for (const opened of desk().querySelectorAll("details[id]")) {
    const same = fresh.querySelector(`#${CSS.escape(opened.id)}`);
    if (same) same.open = opened.open;
  }
  const busy = desk().contains(document.activeElement) && document.activeElement.closest("[id]")?.id;
  desk().replaceWith(fresh);
  if (busy) document.getElementById(busy)?.focus();
}

async function watch() {
  let misses = 0;
  while (desk()?.dataset.status) {
    await new Promise((wake) => setTimeout(wake, EVERY));
    try {
      const now = await (await fetched(desk().dataset.status)).json();
      misses = 0;
      document.getElementById("desk-progress").textContent = now.words;
      if (String(now.plan ?? "") !== desk().dataset.plan || !now.running) await renew();
    } catch {
      misses += 1;
      document.getElementById("desk-progress").textContent = "No answer from the book just now; asking again.";
      if (misses > 30) return;
    }
  }
}

// Nothing was searched for this question yet: begin, without leaving the page.
async function begin() {
  const form = desk()?.querySelector("form[data-begin]");
  if (!form) return;
  await fetch(form.action, { method: "POST", body: new FormData(form), credentials: "same-origin" });
  await renew();
}

begin().then(watch, watch);
