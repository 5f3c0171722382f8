/**
 * Keeps the builder's buttons in step with the counts: pressed is the variant that the sum names,
 * also where the counts were typed by hand. Which variant that is, the server has decided.
 */

const builder = document.getElementById("builder");
builder?.addEventListener("htmx:afterSettle", () => follow(builder));

/** @param {HTMLElement} page */
function follow(page) {
  const sum = page.querySelector("[data-variant]");
  if (!(sum instanceof HTMLElement)) return;
  for (const button of page.querySelectorAll(".variants button")) {
    if (button.getAttribute("value") === sum.dataset.variant) {
      button.setAttribute("aria-pressed", "true");
    } else {
      button.removeAttribute("aria-pressed");
    }
  }
}
