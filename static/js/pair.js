/**
 * Sets up this phone with the token in the address, or with a code that is typed where there is none.
 *
 * The token is taken out of the address before anything else: a browser sends no fragment to a
 * server and writes none into Referer, and so it stays out of the history as well. The form is
 * sent by fetch, because a page without a referrer sends a plain form with the origin "null",
 * which the server refuses.
 */

const token = window.location.hash.slice(1);
window.history.replaceState(null, "", window.location.pathname);

const form = document.querySelector("[data-pair]");
if (form instanceof HTMLFormElement) prepare(form);

/** @param {HTMLFormElement} form */
function prepare(form) {
  const button = /** @type {HTMLButtonElement} */ (form.querySelector("button"));
  const code = form.querySelector("[name=code]");
  const mayType = token === "" && code instanceof HTMLInputElement;
  button.disabled = token === "" && !mayType;
  if (button.disabled) show("missing");
  if (mayType) {
    code.disabled = false;
    code.required = true;
    code.closest("[data-typed]")?.removeAttribute("hidden");
  }
  form.closest("[data-with-link]")?.toggleAttribute("hidden", token === "");
  form.querySelector("[data-inside]")?.toggleAttribute("hidden", !isInsideAnotherApp());
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    button.disabled = true;
    const problem = await redeem(form);
    if (problem === null) return;
    show(problem === "410" && mayType ? "410-code" : problem);
    button.disabled = problem === "410" && !mayType;
    if (mayType) code.focus();
  });
}

/**
 * Uses the link up and opens what the server answers with.
 * @param {HTMLFormElement} form
 * @returns {Promise<string | null>} null when it worked, else the name of the problem
 */
async function redeem(form) {
  const body = new FormData(form);
  body.set("token", token);
  try {
    const answer = await fetch(form.action, { method: "POST", body });
    if (answer.ok && answer.redirected) {
      window.location.replace(answer.url);
      return null;
    }
    return [409, 410, 429].includes(answer.status) ? String(answer.status) : "other";
  } catch {
    return "other";
  }
}

/** @param {string} problem */
function show(problem) {
  for (const notice of document.querySelectorAll("[data-problem]")) {
    notice.toggleAttribute("hidden", notice.getAttribute("data-problem") !== problem);
  }
}

/**
 * Tells the small browsers that live inside chat apps, which lose the phone's cookie.
 * @returns {boolean} whether the page is open in one of those that say so
 */
function isInsideAnotherApp() {
  return /\bwv\)|FBAN|FBAV|Instagram|Line\//.test(navigator.userAgent);
}
