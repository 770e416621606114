// The packing desk improves in place: it begins the search, asks how far it is, and takes each better plan in.
const EVERY = 1000;
const desk = () => document.getElementById("desk");

async function fetched(address) {
  const answer = await fetch(address, { headers: { Accept: "text/html" }, credentials: "same-origin" });
  if (!answer.ok) throw new Error(`${answer.status}`);
  return answer;
}

const parsed = async (answer) => new DOMParser().parseFromString(await answer.text(), "text/html");

// The page as the server has it now, put in place of the old; what was opened stays open, and focus stays where it was.
function renew(page) {
  const fresh = page.getElementById("desk");
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
      if (String(now.plan ?? "") !== desk().dataset.plan || !now.running) renew(await parsed(await fetched(location.href)));
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
  const answer = await fetch(form.action, { method: "POST", body: new FormData(form), credentials: "same-origin" });
  const page = await parsed(answer);
  renew(page);
  const why = page.querySelector(".messages .error");  // why none was begun, such as that two are running
  if (why && !desk().dataset.status) document.getElementById("desk-progress").textContent = why.textContent.trim();
}

begin().then(watch, watch);
