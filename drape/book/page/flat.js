// Points of the flat draft, moved by mouse, touch or arrow keys. Where a point comes to is worked out by the server.
const STEPS = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 10, PageDown: -10 };

export function holdPoints(home, send) {
  let held = null, goal = null, isSending = false;

  async function follow() { // one place at a time: the newest, once the one before is answered
    if (isSending) return;
    isSending = true;
    while (held && goal) {
      const [x, y] = goal;
      goal = null;
      await send({ do: "drag", name: held.dataset.handle, x, y });
    }
    isSending = false;
  }

  function place(event) {
    const sheet = held.ownerSVGElement;
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(sheet.getScreenCTM().inverse());
    return [at.x, at.y];
  }

  home.addEventListener("pointerdown", (event) => {
    const handle = event.target.closest(".handle");
    if (!handle || event.button) return;
    event.preventDefault();
    held = handle;
    held.classList.add("held");
    held.focus({ preventScroll: true });
    held.setPointerCapture(event.pointerId);
  });
  home.addEventListener("pointermove", (event) => {
    if (!held) return;
    goal = place(event);
    follow();
  });
  const letGo = async (event) => {
    if (!held) return;
    const handle = held;
    if (event.type === "pointerup") { goal = place(event); await follow(); }
    handle.classList.remove("held");
    held = null;
    goal = null;
    send({ do: "release" });
  };
  home.addEventListener("pointerup", letGo);
  home.addEventListener("pointercancel", letGo);
  home.addEventListener("keydown", (event) => {
    const handle = event.target.closest?.(".handle");
    const step = STEPS[event.key];
    if (!handle || step === undefined || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    send({ do: "step", name: handle.dataset.handle, by: event.shiftKey && Math.abs(step) === 1 ? 10 * step : step });
  });
}
