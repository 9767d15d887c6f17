// A tap counts for what lay under the finger when it came down, in the order in which things were done.
//
// A field hands over what was typed a moment after it is left. A link that is tapped from inside a field would be
// followed before that, and the value come after it, in the name of the page that was left: the window went back there.
// So a field is left when the finger comes down, and a link that comes too soon after that waits.
//
// The page may move between the finger's coming down and its going up: an answer arrives, a part folds out. The browser
// then taps what lies there now. So the button that was touched is tapped instead.
(() => {
  if (window.tapsWait) return;
  window.tapsWait = true;
  const FIELDS = '[data-testid="stTextInput"] input, [data-testid="stNumberInput"] input, [data-testid="stTextArea"] textarea';
  const LINKS = '[data-testid="stPageLink-NavLink"]';
  const BUTTONS = '[data-testid^="stBaseButton-primary"], [data-testid^="stBaseButton-secondary"]';
  const WAIT_MS = 40, STILL_PX = 10;
  let left = -Infinity, down = null;
  document.addEventListener("pointerdown", (event) => {
    down = { on: event.target.closest?.(`${BUTTONS}, ${LINKS}`), x: event.clientX, y: event.clientY };
    const field = document.activeElement;
    if (!field?.matches(FIELDS) || field === event.target) return;
    field.blur();
    left = performance.now();
  }, true);
  document.addEventListener("click", (event) => {
    const { on, x, y } = down ?? {};
    down = null;
    const still = Math.hypot(event.clientX - x, event.clientY - y) < STILL_PX;
    const moved = on?.isConnected && still && !on.contains(event.target);
    const link = (moved ? on : event.target).closest?.(LINKS);
    const wait = link && performance.now() - left < WAIT_MS;
    if (!moved && !wait) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    setTimeout(() => (link ?? on).click(), wait ? WAIT_MS : 0);
  }, true);
})();
