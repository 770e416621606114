// "/" goes to the search box from anywhere that is not a field.
document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest("input, textarea, select, [contenteditable]")) return;
  const box = document.querySelector(".find input");
  if (!box) return;
  event.preventDefault();
  box.focus();
  box.select();
});
