// Photos of a draft: turned upright, made smaller, drawn anew so that nothing but the picture is left; captions.
// A HEIC that the browser can't read is kept as it is.

const QUALITY = 0.85; // of JPEG
const HUGE_FILE = 60e6; // bytes; no camera of a phone makes larger ones
const LARGEST_KEPT = 25e6; // bytes of a photo that stays as it is, and of all photos: what `leaklore take` takes
const LARGEST_PARCEL = 119e6; // the record itself is below 1 MB

let photoTools = null;

// How large a photo may be, and what takes its metadata out: computed in a module of its own.
export async function loadPhotoTools() {
  photoTools = await import("./record/photo.mjs");
}

function surface(width, height) {
  if (typeof OffscreenCanvas === "function") return new OffscreenCanvas(width, height);
  return Object.assign(document.createElement("canvas"), { width, height });
}

function asJpeg(canvas) {
  if (canvas.convertToBlob) return canvas.convertToBlob({ type: "image/jpeg", quality: QUALITY });
  return new Promise((done, refused) => {
    canvas.toBlob((blob) => (blob ? done(blob) : refused(new Error("no picture"))), "image/jpeg", QUALITY);
  });
}

// A file as { blob, width, height }: a JPEG of at most the size asked for. Throws where it is no picture.
export async function reducedPhoto(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const { width, height } = photoTools.targetSize(picture.width, picture.height);
  const canvas = surface(width, height);
  const pen = canvas.getContext("2d", { alpha: false });
  pen.fillStyle = "white"; // behind what is transparent
  pen.fillRect(0, 0, width, height);
  pen.imageSmoothingQuality = "high";
  pen.drawImage(picture, 0, 0, width, height);
  picture.close();
  const drawn = new Uint8Array(await (await asJpeg(canvas)).arrayBuffer());
  return { blob: new Blob([photoTools.withoutMetadata(drawn)], { type: "image/jpeg" }), width, height };
}

// A file that can't be made smaller as { blob, ending } where it is a HEIC; otherwise `fault` is thrown.
async function keptPhoto(file, fault) {
  const bytes = new Uint8Array(await file.arrayBuffer());
  if (!photoTools.isHeif(bytes)) throw fault;
  return { blob: new Blob([bytes], { type: "image/heic" }), ending: "heic" };
}

// Whether somebody is writing: a photo that is ready must not take the words meant for another field.
function typing() {
  return document.activeElement?.matches("input:not([type=file]), textarea, select") ?? false;
}

export class PhotoField {
  constructor(element, form) {
    Object.assign(this, { element, form, left: false, rows: [] });
    this.list = element.querySelector("[data-photo-list]");
    this.status = element.querySelector("[data-photo-status]");
    this.problem = element.querySelector(":scope > [data-problem]");
    for (const input of element.querySelectorAll("[data-photo-input]")) {
      input.addEventListener("change", async (event) => {
        event.stopPropagation();
        const files = [...input.files];
        input.value = ""; // the same photo can be chosen again
        await this.take(files);
      });
    }
  }

  get pointer() {
    return ["photos"];
  }

  get fields() {
    return this.rows;
  }

  get target() {
    return this.element.querySelector("[data-photo-input]");
  }

  get data() {
    return this.form.record.photos ?? [];
  }

  async take(files) {
    const faults = [];
    for (const [i, file] of files.entries()) {
      this.status.textContent = this.form.say("photo-reading", { n: i + 1, all: files.length });
      if (file.size > HUGE_FILE) {
        faults.push(this.form.say("photo-huge", { name: file.name }));
        continue;
      }
      try {
        await this.form.keepPhoto(await reducedPhoto(file).catch((fault) => this.keptAsItIs(file, fault)));
      } catch (fault) {
        faults.push(fault.told ?? this.form.say("photo-not", { name: file.name }));
      }
    }
    this.status.textContent = faults.join(" ");
    await this.show();
    if (!typing()) this.rows.at(-1)?.input.focus({ preventScroll: false });
  }

  async keptAsItIs(file, fault) {
    const photo = await keptPhoto(file, fault);
    const others = await Promise.all(this.data.map((one) => this.form.photo(one.file)));
    const room = LARGEST_PARCEL - others.reduce((sum, one) => sum + (one?.blob.size ?? 0), 0);
    const most = Math.max(0, Math.min(LARGEST_KEPT, room));
    if (file.size <= most) return photo;
    const slots = { name: file.name, mb: Math.ceil(file.size / 1e6), most: Math.floor(most / 1e6) };
    throw Object.assign(new Error("too long"), { told: this.form.say("photo-long", slots) });
  }

  // Rows whose photo stays where it is stay too: somebody may be typing in one.
  async show() {
    const before = this.rows;
    this.rows = this.data.map((photo, i) => (before[i]?.photo === photo ? before[i] : new PhotoRow(this, photo, i)));
    for (const row of before) if (!this.rows.includes(row)) row.element.remove();
    for (const row of this.rows) if (!before.includes(row)) this.list.insertBefore(row.element, this.list.children[row.index] ?? null);
    await Promise.all(this.rows.map((row) => row.draw()));
  }

  drop(row) {
    const photos = this.form.record.photos;
    const [taken] = photos.splice(row.index, 1);
    if (!photos.length) delete this.form.record.photos;
    this.show();
    this.form.changed(this);
    this.form.undoable(this.form.say("photo-gone"), () => {
      (this.form.record.photos ??= []).splice(row.index, 0, taken);
      this.show();
      this.form.changed(this);
    });
  }

  tell(problems) {
    const text = problems.map((p) => this.form.problemWords(p)).join(" ");
    this.problem.textContent = text;
    this.problem.hidden = !text;
  }
}

class PhotoRow {
  constructor(list, photo, index) {
    Object.assign(this, { list, photo, index, left: false });
    this.element = list.form.part("photo", `${index}`);
    this.input = this.element.querySelector("[data-input]");
    this.problem = this.element.querySelector("[data-problem]");
    this.input.value = photo.caption ?? "";
    this.input.addEventListener("input", () => {
      if (this.input.value.trim()) photo.caption = this.input.value;
      else delete photo.caption;
      this.named();
      list.form.changed(this);
    });
    this.input.addEventListener("blur", () => {
      list.form.calm.later(this, () => {
        this.left = true;
        list.form.told();
      });
    });
    this.element.querySelector("[data-drop]").addEventListener("click", () => list.drop(this));
  }

  get pointer() {
    return ["photos", this.index];
  }

  get target() {
    return this.input;
  }

  named() {
    this.element.querySelector("canvas").setAttribute("aria-label", this.photo.caption || this.photo.file);
  }

  async draw() {
    const kept = await this.list.form.photo(this.photo.file);
    const said = this.element.querySelector("[data-slot=size]");
    this.named();
    if (!kept) {
      said.textContent = this.list.form.say("photo-lost");
      return;
    }
    const kb = Math.ceil(kept.blob.size / 1000);
    const canvas = this.element.querySelector("canvas");
    canvas.hidden = !kept.width;
    if (canvas.hidden) {
      said.textContent = this.list.form.say("photo-kept", { kb });
      return;
    }
    said.textContent = this.list.form.say("photo-size", { width: kept.width, height: kept.height, kb });
    const picture = await createImageBitmap(kept.blob);
    const scale = Math.min(1, 640 / Math.max(picture.width, picture.height));
    Object.assign(canvas, { width: Math.round(picture.width * scale), height: Math.round(picture.height * scale) });
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    picture.close();
  }

  tell(problems) {
    this.problem.textContent = problems.map((p) => this.list.form.problemWords(p)).join(" ");
    this.problem.hidden = !problems.length;
    if (problems.length) this.input.setAttribute("aria-invalid", "true");
    else this.input.removeAttribute("aria-invalid");
  }
}
