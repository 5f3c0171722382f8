/**
 * Takes an invitation's secret out of the address and puts it into the form.
 *
 * A browser sends no fragment to a server and writes none into Referer; taken out at once, it
 * stays out of the history as well. Without this module the secret is pasted by hand.
 */

const secret = window.location.hash.slice(1);
const field = document.querySelector("[data-join] input[name=token]");
if (secret && field instanceof HTMLInputElement) {
  window.history.replaceState(null, "", window.location.pathname);
  field.value = secret;
}
