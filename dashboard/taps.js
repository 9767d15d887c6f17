// A field hands over what was typed a moment after it is left. A link that is tapped from inside a field would be
// followed before that, and the value come after it, in the name of the page that was left: the window went back there.
// So a field is left when the finger comes down, and a link that comes too soon after that waits.
(() => {
  if (window.tapsWait) return;
  window.tapsWait = true;
  const FIELDS = '[data-testid="stTextInput"] input, [data-testid="stNumberInput"] input, [data-testid="stTextArea"] textarea';
  const WAIT_MS = 40;
  let left = -Infinity;
  document.addEventListener("pointerdown", (event) => {
    const field = document.activeElement;
    if (!field?.matches(FIELDS) || field === event.target) return;
    field.blur();
    left = performance.now();
  }, true);
  document.addEventListener("click", (event) => {
    const link = event.target.closest?.('[data-testid="stPageLink-NavLink"]');
    if (!link || performance.now() - left > WAIT_MS) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    setTimeout(() => link.click(), WAIT_MS);
  }, true);
})();
