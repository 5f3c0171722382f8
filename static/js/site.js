/** Small page manners: steppers, copying, printing, going to what needs mending. Every page works without them. */

/**
 * Moves the number beside a stepper's button by the field's own step, inside its limits.
 * @param {HTMLButtonElement} button
 */
function step(button) {
  const input = button.parentElement?.querySelector("input");
  if (!input) {
    return;
  }
  if (button.dataset.step === "up") {
    input.stepUp();
  } else {
    input.stepDown();
  }
  input.dispatchEvent(new Event("input", { bubbles: true }));
  input.dispatchEvent(new Event("change", { bubbles: true }));
}

/**
 * Copies the text of the element that a button names, and says so on the button.
 * @param {HTMLButtonElement} button
 */
async function copy(button) {
  const source = document.querySelector(button.dataset.copy ?? "");
  if (!source) {
    return;
  }
  try {
    await navigator.clipboard.writeText(source.textContent?.trim() ?? "");
    button.textContent = button.dataset.copied ?? "";
  } catch {
    window.getSelection()?.selectAllChildren(source);
    button.textContent = button.dataset.byKeys ?? "";
  }
}

/**
 * Shows the buttons that only work with this script.
 * @param {ParentNode} root
 */
function reveal(root) {
  for (const button of root.querySelectorAll("[data-step][hidden], [data-copy][hidden], [data-print][hidden]")) {
    button.removeAttribute("hidden");
  }
}

/** @param {MouseEvent} event */
function answerClick(event) {
  const button = event.target instanceof Element ? event.target.closest("button") : null;
  if (!button) {
    return;
  }
  if (button.dataset.step) {
    step(button);
  } else if (button.dataset.copy) {
    void copy(button);
  } else if (button.dataset.print !== undefined) {
    window.print();
  }
}

/**
 * Goes to the next field of a list that is typed in line by line; the last line leads on to what follows.
 * @param {KeyboardEvent} event
 */
function goOn(event) {
  const field = event.target;
  const step = { Enter: 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (step === undefined || !(field instanceof HTMLInputElement) || field.dataset.nextOnEnter === undefined) {
    return;
  }
  event.preventDefault();
  const fields = [.../** @type {NodeListOf<HTMLInputElement>} */ (field.form?.querySelectorAll("[data-next-on-enter], [type=radio]"))];
  fields[fields.indexOf(field) + step]?.focus();
}

/** Opens a folded part when its address is asked for, such as the field an error links to. */
function openTarget() {
  const target = location.hash.length > 1 ? document.getElementById(location.hash.slice(1)) : null;
  target?.closest("details")?.setAttribute("open", "");
}

/** Wires the page once. */
function start() {
  document.addEventListener("click", answerClick);
  document.addEventListener("keydown", goOn);
  document.addEventListener("htmx:load", (event) => {
    if (event.target instanceof Element) {
      reveal(event.target);
    }
  });
  window.addEventListener("hashchange", openTarget);
  reveal(document);
  openTarget();
  const mending = document.querySelector("[data-focus]");
  if (mending instanceof HTMLElement) {
    mending.focus();
  }
}

start();
