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
