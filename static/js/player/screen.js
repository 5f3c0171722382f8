/**
 * Draws the session: one view at a time, and in the running view the word, the sign, the colour and the bar
 * change together. No sound and no clock here; the page's own elements are filled.
 *
 * @typedef {import("./position.js").Session} Session
 * @typedef {import("./position.js").Position} Position
 * @typedef {import("./position.js").Step} Step
 * @typedef {import("./beat.js").Beat} Beat
 * @typedef {import("./course.js").Mark} Mark
 * @typedef {"ready"|"found"|"running"|"paused"|"ended"|"hurt"} View
 * @typedef {{top: Step|null, nextUp: Step|null, judged: Step|null, said: Mark|undefined}} Offer
 *   top: may be called the last good note; nextUp: follows on the way up; judged: the note a tap can judge
 */

/** Where a sentence has its note. */
const NOTE = "{note}";
/** From this short side on, in px, a screen stands on a music stand and not in a hand. */
const STAND = "(min-width: 600px) and (min-height: 600px)";

/**
 * @param {HTMLElement} root @param {Session} session @param {import("./words.js").Words} words
 * @param {typeof import("./words.js").fill} fill
 */
export function createScreen(root, session, words, fill) {
  const find = (/** @type {string} */ name) => /** @type {HTMLElement} */ (root.querySelector(`[data-${name}]`));
  const button = (/** @type {string} */ name) => /** @type {HTMLElement} */ (root.querySelector(`[data-do="${name}"]`));
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  const stand = matchMedia(STAND);
  const shown = { note: "", said: "", counts: 0, size: "auto", pitch: "written", again: () => {} };
  stand.addEventListener("change", fitSize);

  /** @param {View} view */
  function show(view) {
    const goes = (/** @type {Element} */ part) => !(part.getAttribute("data-in") ?? "").split(" ").includes(view);
    const held = document.activeElement;
    const place = held !== null && root.contains(held) ? held.closest("[data-in]") : null;
    // To hide what holds the keyboard lays the whole page out, and what takes it does so again: let go first.
    if (place !== null && goes(place) && held instanceof HTMLElement) held.blur();
    root.dataset.view = view;
    for (const part of root.querySelectorAll("[data-in]")) part.toggleAttribute("hidden", goes(part));
    for (const name of ["top", "next-up", "unmute"]) button(name).hidden = true;
    for (const name of ["judge", "why"]) find(name).hidden = true;
    beat({ lit: "still", side: "none" });
  }

  /** Playing begins, or goes on. */
  function run() {
    show("running");
    Object.assign(shown, { said: "", again: () => {} });
  }

  /** Draw now, and again should the student ask for another pitch. */
  function redrawable(/** @type {() => void} */ drawing) {
    shown.again = drawing;
    drawing();
  }

  /**
   * What will happen, before the first tap.
   * @param {string} length such as "27 notes. About 7 minutes." @param {boolean} buzzes whether the phone can buzz
   */
  function ready(length, buzzes) {
    show("ready");
    find("buzzes").hidden = !buzzes;
    find("pitches").hidden = !session.has_concert;
    write(find("length"), length);
    hangStaves();
    redrawable(() => drawNote(session.steps[0], words.first_note));
    root.hidden = false;
  }

  /** A session was left in the middle: ask, and begin nothing. @param {Step} step the note to carry on with */
  function found(step) {
    show("found");
    set("phase", "paused");
    write(find("word"), fill(words.carry_on_at, placeOf(step)));
    write(find("message"), "");
    redrawable(() => drawNote(step, words.next_note));
    write(button("carry-on"), words.carry_on);
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

  /** @param {Position} place @param {Offer} offer */
  function draw(place, offer) {
    const step = session.steps[place.index];
    const coming = place.coming === null ? null : session.steps[place.coming];
    set("phase", place.phase);
    set("breathe", String(place.breathe));
    write(find("word"), wordOf(place, words));
    write(find("aside"), place.phase === "rest" && !place.breathe ? words.horn_off : "");
    write(find("count"), String(place.count));
    write(find("of"), fill(words.of_counts, { counts: place.counts }));
    drawBar(place);
    drawNote(place.phase === "rest" && coming !== null ? coming : step, tagOf(place, words));
    if (place.phase !== "hold") write(find("next"), "");
    else if (coming === null) write(find("next"), words.last_note);
    else writeNote(find("next"), goesUp(step, coming) ? words.next_up : words.next, coming);
    drawOffer(offer);
    say(place, step, coming);
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
    write(find("tag"), shown.pitch === "concert" ? fill(words.in_concert, { tag }) : tag);
    const key = `${step.index} ${shown.pitch}`;
    if (shown.note === key) return;
    shown.note = key;
    write(find("place"), fill(words.place, placeOf(step)));
    write(find("note"), labelOf(step));
    write(find("note-said"), spokenOf(step));
    set("wide", String(labelOf(step).length > 3));
    drawFingering(step);
    write(find("dynamic-sign"), step.dynamic);
    write(find("dynamic"), step.dynamic_words);
    for (const staff of find("staves").children) {
      staff.toggleAttribute("hidden", staff.getAttribute("data-written") !== String(step.written));
    }
  }

  /** A slide shows its position in words, large; valves their numbers, and beside them a hint or the words. */
  function drawFingering(/** @type {Step} */ step) {
    const { slide } = session;
    const fingers = slide ? capital(step.fingering_words) : step.fingering.split("").join(" ");
    write(find("fingers"), fingers);
    write(find("fingering-words"), slide ? "" : step.fingering_words);
    write(find("hint"), step.hint);
    find("fingering-words").classList.toggle("unseen", step.hint !== "");
  }

  /** The choices of a rest. Should a button go that holds the keyboard, Pause takes it. */
  function drawOffer(/** @type {Offer} */ { top, nextUp, judged, said }) {
    const held = document.activeElement;
    button("top").hidden = top === null;
    if (top !== null) writeNote(find("top-note"), NOTE, top);
    button("next-up").hidden = nextUp === null;
    if (nextUp !== null) writeNote(find("next-up-note"), NOTE, nextUp);
    find("judge").hidden = judged === null;
    set("judging", String(judged !== null));
    if (judged !== null) writeNote(find("judged"), words.how_was, judged);
    press("good", said === "good");
    press("not-yet", said === "not yet");
    if (held !== null && root.contains(held) && held.closest("[hidden]") !== null) focus("pause");
  }

  function press(/** @type {string} */ name, /** @type {boolean} */ on) {
    const value = String(on);
    if (button(name).getAttribute("aria-pressed") !== value) button(name).setAttribute("aria-pressed", value);
  }

  /** Speak when the note or the word Hold or Rest changes; never the counts. */
  function say(/** @type {Position} */ place, /** @type {Step} */ step, /** @type {Step|null} */ coming) {
    const key = `${place.phase} ${place.index} ${place.leading}`;
    if (shown.said === key) return;
    shown.said = key;
    if (place.phase === "count-in") write(find("say"), fill(words.say_count_in, { note: heard(step) }));
    if (place.phase === "hold") write(find("say"), fill(words.say_hold, { note: heard(step) }));
    if (place.phase === "rest" && coming !== null) write(find("say"), fill(words.say_rest, { note: heard(coming) }));
  }

  /** A note as a screen reader says it: "Low F sharp. Hold 8, rest 8. Medium loud." */
  function heard(/** @type {Step} */ step) {
    const sentence = step.index + 1 < session.steps.length ? words.heard : words.heard_last;
    const { hold, rest } = session;
    return fill(sentence, { note: capital(spokenOf(step)), hold, rest, loudness: capital(step.dynamic_words) });
  }

  function placeOf(/** @type {Step} */ step) {
    return { number: step.index + 1, total: session.steps.length };
  }

  function labelOf(/** @type {Step} */ step) {
    return shown.pitch === "concert" ? step.concert_label : step.label;
  }

  function spokenOf(/** @type {Step} */ step) {
    return shown.pitch === "concert" ? fill(words.concert, { note: step.concert_spoken }) : step.spoken;
  }

  /**
   * Write a note: its sign for the eye, its words for a screen reader, which may pass over "♯" in silence.
   * @param {Element} part @param {string} sentence in which the note stands as {note} @param {Step} step
   */
  function writeNote(part, sentence, step) {
    const [before, after] = sentence.split(NOTE);
    const [seen, said] = [labelOf(step) + after, spokenOf(step) + after];
    if (seen === said) return write(part, before + seen);
    if (part.textContent === before + seen + said) return;
    const [sign, spoken] = [document.createElement("span"), document.createElement("span")];
    sign.setAttribute("aria-hidden", "true");
    sign.textContent = seen;
    spoken.className = "unseen";
    spoken.textContent = said;
    part.replaceChildren(before, sign, spoken);
  }

  /**
   * @param {{next: Step, again: Step|null, top: Step|null}} notes again: null where carrying on begins with it
   * @param {string} message why it stands still, or ""
   */
  function pause({ next, again, top }, message) {
    show("paused");
    button("again").hidden = again === null;
    button("top").hidden = top === null;
    set("phase", "paused");
    write(find("word"), words.paused);
    write(find("message"), message);
    redrawable(() => {
      drawNote(next, words.next_note);
      writeNote(button("carry-on"), words.carry_on_with, next);
      if (again !== null) writeNote(button("again"), words.again_from, again);
      if (top !== null) writeNote(find("top-note"), NOTE, top);
    });
  }

  /** @param {string} word @param {string} message @param {Step|null} top the last good note: ask why it ended there */
  function end(word, message, top) {
    show("ended");
    set("phase", "done");
    write(find("word"), word);
    write(find("message"), message);
    if (top !== null) writeNote(find("message"), `${message} ${words.last_good}`, top);
    find("why").hidden = top === null;
    root.dataset.why = String(top !== null);
  }

  /** @param {string} message */
  function hurt(message) {
    show("hurt");
    set("phase", "hurt");
    write(find("word"), words.stop_for_today);
    write(find("message"), message);
  }

  /** Say that the phone may fall asleep. */
  function mayDoze(/** @type {boolean} */ doze) {
    find("doze").hidden = !doze;
  }

  /** Where no click can be heard, a button offers to turn it on. */
  function mute(/** @type {boolean} */ on) {
    if (button("unmute").hidden === !on) return;
    const focused = document.activeElement === button("unmute");
    button("unmute").hidden = !on;
    if (focused && !on) focus("pause");
  }

  /** @param {Beat} now */
  function beat({ lit, side }) {
    set("lit", lit);
    set("side", side);
  }

  /** Follow the choices of size and pitch. What stands on the page between two pictures is drawn anew. */
  function prefer(/** @type {"auto"|"hand"|"stand"} */ size, /** @type {"written"|"concert"} */ pitch) {
    Object.assign(shown, { size, pitch: session.has_concert ? pitch : "written" });
    set("pitch", shown.pitch);
    fitSize();
    shown.again();
  }

  function fitSize() {
    const auto = stand.matches ? "stand" : "hand";
    set("size", shown.size === "auto" ? auto : shown.size);
  }

  /** Put the keyboard where the next tap is. @param {string} name of the button, or "title" */
  function focus(name) {
    const part = name === "title" ? find("word").parentElement : button(name);
    part?.focus({ preventScroll: true });
  }

  function set(/** @type {string} */ name, /** @type {string} */ value) {
    if (root.dataset[name] !== value) root.dataset[name] = value;
  }

  return { ready, found, run, draw, pause, end, hurt, mayDoze, mute, beat, prefer, focus };
}

/** @param {Position} place @param {import("./words.js").Words} words */
function wordOf(place, words) {
  if (place.breathe) return words.breathe_in;
  if (place.phase === "count-in") return words.get_ready;
  return place.phase === "rest" ? words.rest : words.hold;
}

/** @param {Step} step @param {Step} coming */
function goesUp(step, coming) {
  return step.part === "up" && coming.part === "up";
}

/** @param {Position} place @param {import("./words.js").Words} words */
function tagOf(place, words) {
  return place.phase === "hold" || place.phase === "done" ? words.now : words.next_note;
}

/** @param {string} words */
function capital(words) {
  return words.charAt(0).toUpperCase() + words.slice(1);
}

/** Write only what changed, so that the page rests between counts. @param {Element} part @param {string} text */
function write(part, text) {
  if (part.textContent !== text) part.textContent = text;
}
