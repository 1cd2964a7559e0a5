// What a screen reader hears by itself.
import { say } from "./dom.js";
import { elements } from "./selectors.js";

// Say at once: an answer to what the person just did.
export function announce(words) {
  elements.announcer.textContent = "";
  setTimeout(() => say(elements.announcer, words), 50);
}
