/**
 * Draws the session: one view at a time, and in the running view the word, the sign, the colour and the bar
 * change together. No sound and no clock here; the page's own elements are filled.
 *
 * @typedef {import("./position.js").Session} Session
 * @typedef {import("./position.js").Position} Position
 * @typedef {import("./position.js").Step} Step
 * @typedef {"ready"|"running"|"paused"|"ended"|"hurt"} View
 */

const LEVEL_WORDS = { off: "Click off", soft: "Click soft", loud: "Click loud" };

/** @param {HTMLElement} root @param {Session} session */
export function createScreen(root, session) {
  const find = (/** @type {string} */ name) => /** @type {HTMLElement} */ (root.querySelector(`[data-${name}]`));
  const button = (/** @type {string} */ name) => /** @type {HTMLElement} */ (root.querySelector(`[data-do="${name}"]`));
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  const shown = { note: "", said: "", counts: 0 };

  /** @param {View} view */
  function show(view) {
    root.dataset.view = view;
    for (const part of root.querySelectorAll("[data-in]")) {
      const views = part.getAttribute("data-in") ?? "";
      part.toggleAttribute("hidden", !views.split(" ").includes(view));
    }
    button("top").hidden = true;
    button("unmute").hidden = true;
  }

  /** Playing begins, or goes on. */
  function run() {
    show("running");
    shown.said = "";
  }

  /** What will happen, before the first tap. @param {string} length such as "27 notes. About 7 minutes." */
  function ready(length) {
    show("ready");
    write(find("length"), length);
    hangStaves();
    drawNote(session.steps[0], "First note");
    root.hidden = false;
  }

  /** All staves and letters come before the start: once it plays, the page asks the network for nothing. */
  function hangStaves() {
    for (const template of document.querySelectorAll("template[data-staff]")) {
      const staff = document.createElement("div");
      staff.dataset.written = template.getAttribute("data-staff") ?? "";
      staff.hidden = true;
      staff.append(/** @type {HTMLTemplateElement} */ (template).content.cloneNode(true));
      find("staves").append(staff);
    }
    const letters = getComputedStyle(find("dynamic-sign"));
    document.fonts.load(`${letters.fontStyle} ${letters.fontWeight} ${letters.fontSize} ${letters.fontFamily}`);
  }

  /** @param {Position} place @param {Step|null} top the note that may be called the last good one */
  function draw(place, top) {
    const step = session.steps[place.index];
    const next = session.steps[place.index + 1];
    const early = place.phase === "rest" && next !== undefined;
    set("phase", place.phase);
    set("breathe", String(place.breathe));
    write(find("word"), wordOf(place));
    write(find("count"), String(place.count));
    write(find("of"), `of ${place.counts}`);
    drawBar(place);
    drawNote(early ? next : step, tagOf(place));
    write(find("next"), place.phase === "hold" ? nextWords(step, next) : "");
    offerTop(top);
    say(place, step, next);
  }

  function drawBar(/** @type {Position} */ place) {
    if (shown.counts !== place.counts) {
      shown.counts = place.counts;
      find("bar").setAttribute("viewBox", `0 0 ${place.counts} 1`);
      const lines = Array.from({ length: Math.max(0, place.counts - 1) }, (_, at) => `M${at + 1} 0v1`);
      find("counts").setAttribute("d", lines.join(""));
      find("counts-over").setAttribute("d", lines.join(""));
    }
    const gone = calm.matches ? place.count - (place.phase === "hold" ? 0 : 1) : place.fraction * place.counts;
    const width = place.phase === "rest" ? place.counts - gone : gone;
    find("fill").setAttribute("width", width.toFixed(3));
  }

  function drawNote(/** @type {Step} */ step, /** @type {string} */ tag) {
    write(find("tag"), tag);
    const key = `${step.index}`;
    if (shown.note === key) return;
    shown.note = key;
    write(find("place"), `${step.index + 1} of ${session.steps.length}`);
    write(find("note"), step.label);
    root.dataset.wide = String(step.label.length > 3);
    drawFingering(step);
    write(find("dynamic-sign"), step.dynamic);
    write(find("dynamic"), step.dynamic_words);
    for (const staff of find("staves").children) {
      staff.toggleAttribute("hidden", staff.getAttribute("data-written") !== String(step.written));
    }
  }

  /** A slide shows its position in words, large; valves their numbers, and beside them a hint or the words. */
  function drawFingering(/** @type {Step} */ step) {
    const slide = step.fingering_words.toLowerCase().startsWith("position");
    const words = slide ? capital(step.fingering_words) : step.fingering.split("").join(" ");
    write(find("fingers"), words);
    write(find("fingering-words"), slide ? "" : step.fingering_words);
    write(find("hint"), step.hint);
    find("fingering-words").classList.toggle("unseen", step.hint !== "");
  }

  function offerTop(/** @type {Step|null} */ top) {
    button("top").hidden = top === null;
    if (top !== null) write(button("top"), `${top.label} was my last good note`);
  }

  /** Speak when the note or the word Hold or Rest changes; never the counts. */
  function say(/** @type {Position} */ place, /** @type {Step} */ step, /** @type {Step|undefined} */ next) {
    const key = `${place.phase} ${place.index}`;
    if (shown.said === key) return;
    shown.said = key;
    if (place.phase === "count-in") write(find("say"), `Get ready. ${step.spoken}.`);
    if (place.phase === "hold") write(find("say"), `Hold. ${step.spoken}. ${capital(step.dynamic_words)}.`);
    if (place.phase === "rest" && next !== undefined) write(find("say"), `Rest. Next note: ${next.spoken}.`);
  }

  /** @param {Step} step the note that can be played again @param {string} message why it stands still, or "" */
  function pause(step, message) {
    show("paused");
    write(button("again"), `Again from this note: ${step.label}`);
    set("phase", "paused");
    write(find("word"), "Paused");
    write(find("message"), message);
  }

  /** @param {string} word @param {string} message */
  function end(word, message) {
    show("ended");
    set("phase", "done");
    write(find("word"), word);
    write(find("message"), message);
  }

  /** @param {string} message */
  function hurt(message) {
    show("hurt");
    set("phase", "hurt");
    write(find("word"), "Stop for today.");
    write(find("message"), message);
  }

  /** Say that the phone may fall asleep. */
  function mayDoze(/** @type {boolean} */ doze) {
    find("doze").hidden = !doze;
  }

  /** Where no click can be heard, the button that turns it on stands in place of its loudness. */
  function mute(/** @type {boolean} */ on) {
    if (button("unmute").hidden === !on) return;
    const focused = document.activeElement === button("unmute");
    button("unmute").hidden = !on;
    button("level").hidden = on;
    if (focused) button("level").focus();
  }

  /** @param {"off"|"soft"|"loud"} level */
  function level(level) {
    write(button("level"), LEVEL_WORDS[level]);
  }

  /** Put the keyboard where the next tap is. @param {string} name of the button, or "title" */
  function focus(name) {
    const part = name === "title" ? find("word").parentElement : button(name);
    part?.focus({ preventScroll: true });
  }

  function set(/** @type {string} */ name, /** @type {string} */ value) {
    if (root.dataset[name] !== value) root.dataset[name] = value;
  }

  return { ready, run, draw, pause, end, hurt, mayDoze, mute, level, focus };
}

/** @param {Position} place */
function wordOf(place) {
  if (place.breathe) return "Breathe in";
  if (place.phase === "count-in") return "Get ready";
  return place.phase === "rest" ? "Rest. Horn down." : "Hold";
}

/** @param {Position} place */
function tagOf(place) {
  return place.phase === "hold" || place.phase === "done" ? "Now" : "Next note";
}

/** @param {Step} step @param {Step|undefined} next */
function nextWords(step, next) {
  if (next === undefined) return "Last note";
  return step.part === "up" && next.part === "up" ? `Next note up: ${next.label}` : `Next note: ${next.label}`;
}

/** @param {string} words */
function capital(words) {
  return words.charAt(0).toUpperCase() + words.slice(1);
}

/** Write only what changed, so that the page rests between counts. @param {Element} part @param {string} text */
function write(part, text) {
  if (part.textContent !== text) part.textContent = text;
}
