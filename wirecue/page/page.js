window.wirecue = { text: "", name: "design.toml" };
function wirecueKeep(text, name) { window.wirecue = { text, name: name || "design.toml" }; }
function wirecueGone(gone) {
  document.getElementById("gone").classList.toggle("shown", gone);
  for (const part of document.querySelectorAll("main, .bar")) part.inert = gone;
}
function wirecueCopy() {
  const area = document.getElementById("gone-text");
  area.value = window.wirecue.text; area.hidden = false; area.select();
  navigator.clipboard?.writeText(window.wirecue.text).catch(() => document.execCommand("copy"));
}
function wirecueFile() {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([window.wirecue.text], { type: "application/toml" }));
  link.download = window.wirecue.name.split("/").pop(); link.click();
  URL.revokeObjectURL(link.href);
}
(function follow() {
  const socket = window.socket;
  if (!socket) { setTimeout(follow, 50); return; }
  socket.on("disconnect", () => wirecueGone(true));
  socket.on("connect", () => wirecueGone(false));
})();
const wirecueKeys = { s: "save", z: "undo", y: "redo" };
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
  let what = wirecueKeys[event.key.toLowerCase()];
  if (!what) return;
  if (what === "undo" && event.shiftKey) what = "redo";
  // In a text field Ctrl+Z belongs to what is being typed there.
  if (what !== "save" && event.target.matches("textarea, input")) return;
  event.preventDefault();
  // What is still being typed counts.
  if (document.activeElement?.matches("input")) document.activeElement.blur();
  emitEvent("wirecue_" + what);
});
// The way along the cards: what is folded opens, and the focus goes with it.
function wirecueGo(id) {
  const card = document.getElementById(id);
  if (!card) return;
  const fold = card.querySelector(":scope > details");
  if (fold) fold.open = true;
  card.scrollIntoView();
  card.focus({ preventScroll: true });
  dispatchEvent(new Event("scroll"));
}
document.addEventListener("click", (event) => {
  const link = event.target.closest(".way a, a.to-card");
  if (!link) return;
  event.preventDefault();
  wirecueGo(link.hash.slice(1));
});
(function mark(tries) {
  if (!document.querySelector(".way a")) { if (tries) setTimeout(() => mark(tries - 1), 100); return; }
  let due = false;
  const show = () => {
    due = false;
    const line = innerHeight / 3;
    const cards = [...document.querySelectorAll(".card[id]")].filter((one) => one.getClientRects().length)
      .map((one) => [one, one.getBoundingClientRect()]).filter(([_, box]) => box.top <= line && box.bottom > 60)
      .sort(([_, one], [__, other]) => one.top - other.top);
    const inStack = cards.filter(([one]) => !one.closest(".controls") || innerWidth <= 860);
    // At the foot of the page the last cards cannot come up to the line: where the focus went is where one is.
    const foot = scrollY + innerHeight >= document.documentElement.scrollHeight - 2;
    const gone = foot && document.activeElement?.matches(".card") ? document.activeElement.id : null;
    const here = gone ?? (inStack.length ? inStack : cards).at(-1)?.[0].id;
    for (const link of document.querySelectorAll(".way a")) {
      const current = link.hash === `#${here}`;
      if (current === link.hasAttribute("aria-current")) continue;
      if (current) link.setAttribute("aria-current", "true"); else link.removeAttribute("aria-current");
      const way = link.closest(".way");
      if (current) way.scrollLeft = link.offsetLeft - way.clientWidth / 2;
    }
  };
  addEventListener("scroll", () => { if (!due) { due = true; requestAnimationFrame(show); } }, { passive: true });
  show();
})(300);
