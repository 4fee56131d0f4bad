// Keys, mouse and touch on the timeline ask the server for another stretch of it; one request at a time is on its way.
(function zoom(tries) {
  const picture = document.querySelector(".zoomable");
  if (!picture) { if (tries) setTimeout(() => zoom(tries - 1), 100); return; }
  let closer = 1, at = 0.5, along = 0, whole = 0, waiting = null;
  const shown = () => picture.querySelector("svg")?.getBoundingClientRect();
  const width = () => shown().width * (picture.dataset.plotTo - picture.dataset.plotFrom);
  const share = (x) => Math.min(1, Math.max(0, (x - shown().left - shown().width * picture.dataset.plotFrom) / width()));
  const zoomed = () => picture.classList.contains("zoomed");
  function send() {
    if (waiting || (closer === 1 && along === 0 && !whole)) return;
    emitEvent("wirecue_look", { closer, at, along, whole });
    closer = 1; along = 0; whole = 0;
    waiting = setTimeout(done, 250);
  }
  function done() { clearTimeout(waiting); waiting = null; send(); }
  new MutationObserver(() => { if (waiting) done(); }).observe(picture, { childList: true, subtree: true });
  picture.addEventListener("wheel", (event) => {
    if (!shown()) return;
    if (event.ctrlKey || event.metaKey) {
      event.preventDefault();
      closer *= Math.exp(-Math.max(-60, Math.min(60, event.deltaY)) * 0.006); at = share(event.clientX); send();
    } else if (zoomed() && (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY))) {
      event.preventDefault();
      along += (event.deltaX || event.deltaY) / width(); send();
    }
  }, { passive: false });
  const down = new Map();
  picture.addEventListener("pointerdown", (event) => {
    if (event.button !== 0 || !shown()) return;
    down.set(event.pointerId, event.clientX);
    if (zoomed() || down.size > 1) picture.setPointerCapture(event.pointerId);
  });
  picture.addEventListener("pointermove", (event) => {
    if (!down.has(event.pointerId)) return;
    const before = [...down.values()];
    down.set(event.pointerId, event.clientX);
    const now = [...down.values()];
    if (now.length === 2) {
      const apart = (xs) => Math.max(20, Math.abs(xs[0] - xs[1]));
      closer *= apart(now) / apart(before); at = share((now[0] + now[1]) / 2);
    } else if (now.length === 1 && zoomed()) along -= (now[0] - before[0]) / width();
    send();
  });
  for (const name of ["pointerup", "pointercancel", "lostpointercapture"])
    picture.addEventListener(name, (event) => down.delete(event.pointerId));
  picture.addEventListener("keydown", (event) => {
    if (event.target !== picture || event.ctrlKey || event.metaKey || event.altKey) return;
    const key = event.key;
    if (key === "+" || key === "=") { closer *= 1.6; at = 0.5; }
    else if (key === "-" || key === "_") { closer /= 1.6; at = 0.5; }
    else if (key === "0" || key === "Home") whole = 1;
    else if (zoomed() && key === "ArrowLeft") along -= 0.25;
    else if (zoomed() && key === "ArrowRight") along += 0.25;
    else return;
    event.preventDefault();
    send();
  });
})(300);
