// How far a long sheet is: asked once a second, and the whole page again once it is written no more.
const EVERY = 1000;
const MISSES = 60;

async function look() {
  const answer = await fetch(location.href, { headers: { Accept: "text/html" }, credentials: "same-origin" });
  if (!answer.ok) throw new Error(`${answer.status}`);
  return new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("writing");
}

let missed = 0;
while (missed < MISSES) {
  await new Promise((wake) => setTimeout(wake, EVERY));
  try {
    const fresh = await look();
    if (!fresh) break;
    document.getElementById("writing").replaceWith(fresh);
    missed = 0;
  } catch {
    missed += 1;
  }
}
location.reload();
