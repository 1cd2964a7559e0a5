// A guide to a colour from photographs: pictures chosen, the colour marked by two taps or typed numbers.
import { fault, onSubmit, post, Refused } from "./act.js";
import { make, say } from "./dom.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";
import { setWords, textsOf } from "./targets.js";
import { boxOf, pictureFault, pixelAt, readBox, readPhotographs, refusedField } from "./targets_view.js";
import { fill } from "./words.js";

const words = strings.target;
const PARTS = ["patch", "neutral"];
const form = elements.photoForm;
let pictures = [];
let chosen = 0;

// Inline, as the page's own rules take no other address of a picture.
function dataUrl(file) {
  return new Promise((done, failed) => {
    const reader = new FileReader();
    reader.addEventListener("load", () => done(reader.result));
    reader.addEventListener("error", () => failed(reader.error));
    reader.readAsDataURL(file);
  });
}

// One more picture; what is wrong with it, or nothing.
async function take(file) {
  const wrong = pictureFault(file);
  if (wrong) return wrong;
  const image = make("img", {});
  try {
    image.src = await dataUrl(file);
    await image.decode();
  } catch {
    return fill(words.bad_picture, { name: file.name });
  }
  const n = chosen;
  chosen += 1;
  const [, data_base64] = image.src.split(",", 2);
  const picture = { n, name: file.name, media_type: file.type, data_base64, size: [image.naturalWidth, image.naturalHeight] };
  pictures.push(picture);
  elements.photoPictures.append(pictureItem(picture, image));
  return "";
}

async function takeAll(field) {
  const button = form.querySelector(":scope > button");
  const files = [...field.files];
  button.disabled = true;
  fault(field, "");
  const wrong = [];
  for (const file of files) {
    say(elements.photoAnswer, fill(words.reading, { name: file.name }));
    wrong.push(await take(file));
  }
  say(elements.photoAnswer, "");
  // Emptied, so that another picture adds to these and one left out can be chosen again.
  field.value = "";
  fault(field, wrong.filter(Boolean).join(" "));
  button.disabled = false;
}

const textsIn = (n, part) => [0, 1, 2, 3].map((side) => form.elements[`${part}-${n}-${side}`].value);

function pictureItem(picture, image) {
  const { n, name, size: [w, h] } = picture;
  image.alt = fill(words.picture, { name, w, h });
  const status = make("p", { class: "note", role: "status" });
  const marks = Object.fromEntries(PARTS.map((part) => [part, make("span", { class: part, hidden: true })]));
  const shown = make("div", { class: "photo marked" }, image, ...Object.values(marks));
  const redrawMarks = () => PARTS.forEach((part) => drawMark(marks[part], readBox(textsIn(n, part), picture.size), picture.size));
  const item = make("fieldset", { class: "column" }, make("legend", {}, name),
    make("fieldset", { class: "row" }, make("legend", {}, words.marks), ...PARTS.map((part) => make("label", { class: "check" },
      make("input", { type: "radio", name: `marks-${n}`, value: part, checked: part === "patch" }), words.parts[part]))),
    shown, status,
    ...PARTS.map((part) => make("fieldset", { class: "row" }, make("legend", {}, fill(words.part_of[part], { name })), ...words.sides.map((side, at) => make("label", {}, side,
      make("input", { name: `${part}-${n}-${at}`, inputmode: "numeric", size: "5", autocomplete: "off" }))))),
    make("button", { type: "button", class: "quiet", click: () => leaveOut(picture, item) }, fill(words.leave_out, { name })));
  item.addEventListener("input", redrawMarks);
  let corner = null;
  image.addEventListener("click", (event) => {
    const part = form.elements[`marks-${n}`].value;
    const at = pixelAt([event.offsetX, event.offsetY], [image.clientWidth, image.clientHeight], picture.size);
    const box = boxOf(corner ?? at, at);
    if (corner) {
      box.forEach((value, side) => {
        form.elements[`${part}-${n}-${side}`].value = String(value);
      });
      fault(form.elements[`${part}-${n}-0`], "");
      redrawMarks();
    } else drawMark(marks[part], box, picture.size);
    say(status, corner ? fill(words.marked, { part: words.parts[part], w: box[2], h: box[3] }) : words.opposite);
    corner = corner ? null : at;
  });
  // The taps mark another part from its first corner on.
  for (const radio of item.querySelectorAll("[type=radio]")) {
    radio.addEventListener("change", () => {
      corner = null;
      say(status, "");
      redrawMarks();
    });
  }
  return item;
}

function drawMark(mark, box, [width, height]) {
  mark.hidden = !box;
  if (!box) return;
  const shares = [box[0] / width, box[1] / height, box[2] / width, box[3] / height];
  ["left", "top", "width", "height"].forEach((side, at) => {
    mark.style[side] = `${100 * shares[at]}%`;
  });
}

function leaveOut(picture, item) {
  pictures = pictures.filter((other) => other !== picture);
  item.remove();
  form.elements.pictures.focus();
}

const typed = () => pictures.map((picture) => ({ ...picture, patch: textsIn(picture.n, "patch"), neutral: textsIn(picture.n, "neutral") }));

async function send({ asked }) {
  say(elements.photoAnswer, "");
  let target;
  try {
    target = await post("/api/targets/photographs", asked);
  } catch (refused) {
    const field = refused instanceof Refused ? refusedField(refused.message, pictures) : null;
    throw field ? new Refused(refused.message, field) : refused;
  }
  pictures = [];
  elements.photoPictures.replaceChildren();
  form.reset();
  say(elements.photoAnswer, setWords(target));
}

export function setUp() {
  form.elements.pictures.addEventListener("change", (event) => takeAll(event.target));
  onSubmit(form, () => readPhotographs(textsOf(form), typed()), send);
}
