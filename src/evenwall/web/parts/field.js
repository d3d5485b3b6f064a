// <shop-field>: one question of a form. It keeps what is being typed while the server answers, says where its value
// came from, and puts a refusal right under itself. Attributes: label, value, unit, kind (number | text | choice | yes),
// options (JSON [[value, name], ...]), note, error, source, origin (one sentence), wide.
let count = 0;
const PAUSE = 40; // ms between a key and the question to the server

class ShopField extends HTMLElement {
  static observedAttributes = ["label", "value", "unit", "options", "note", "error", "source", "origin", "disabled"];

  connectedCallback() {
    if (this.input) return;
    this.id_ = `field-${++count}`;
    this.form = this.getAttribute("kind") ?? "number";
    this.classList.add("field", `field-${this.form}`);
    this.build();
    for (const name of ShopField.observedAttributes) this.attributeChangedCallback(name);
  }

  build() {
    const id = this.id_;
    const control = {
      choice: `<select id="${id}"></select>`,
      yes: `<input id="${id}" type="checkbox">`,
      text: `<input id="${id}" type="text" autocomplete="off" spellcheck="false">`,
      number: `<input id="${id}" type="text" inputmode="decimal" autocomplete="off">`,
    }[this.form];
    this.innerHTML = `<div class="ask"><label for="${id}"></label>
      <button type="button" class="origin" aria-expanded="false" hidden></button></div>
      <div class="box">${control}<span class="unit" id="${id}-unit"></span></div>
      <p class="origin-text" id="${id}-origin" hidden></p>
      <p class="note" id="${id}-note" hidden></p><p class="error" id="${id}-error" role="alert" hidden></p>`;
    this.input = this.querySelector("input, select");
    this.input.setAttribute("aria-describedby", `${id}-unit ${id}-note ${id}-error`);
    this.input.addEventListener("input", () => this.wait());
    this.input.addEventListener("change", () => this.answer());
    this.input.addEventListener("keydown", (event) => this.key(event));
    this.input.addEventListener("focus", () => this.form === "number" && this.input.select());
    addEventListener("pagehide", () => this.timer && this.answer());
    const button = this.querySelector(".origin");
    button.addEventListener("click", () => {
      const text = this.querySelector(".origin-text");
      text.hidden = !text.hidden;
      button.setAttribute("aria-expanded", String(!text.hidden));
    });
  }

  attributeChangedCallback(name) {
    if (!this.input) return;
    const text = this.getAttribute(name) ?? "";
    const show = (selector, words) => {
      const place = this.querySelector(selector);
      place.textContent = words;
      place.hidden = !words;
    };
    if (name === "label") this.querySelector("label").textContent = text;
    if (name === "unit") show(".unit", text);
    if (name === "note") show(".note", text);
    if (name === "source" && text) show("button.origin", text);
    if (name === "source" && !text) this.querySelector("button.origin").hidden = true;
    if (name === "origin") this.querySelector(".origin-text").textContent = text;
    if (name === "disabled") this.input.disabled = this.hasAttribute("disabled");
    if (name === "options") this.fill(text);
    if (name === "value" || name === "options") this.take();
    if (name === "source") {
      this.dataset.source = text;
      const label = this.getAttribute("label") ?? "";
      this.querySelector("button.origin").setAttribute("aria-label", `${text} value: where it comes from`);
      this.querySelector("button.origin").title = label;
    }
    if (name === "error") {
      show(".error", text);
      this.input.setAttribute("aria-invalid", String(Boolean(text)));
      this.classList.toggle("refused", Boolean(text));
    }
  }

  fill(text) {
    if (this.form !== "choice" || !text) return;
    this.input.replaceChildren(
      ...JSON.parse(text).map(([value, name]) => Object.assign(document.createElement("option"), { value, text: name }))
    );
  }

  /** Take the server's value, unless something is being typed here. */
  take() {
    this.sent = undefined;
    const value = this.getAttribute("value") ?? "";
    if (this.form === "yes") this.input.checked = value === "yes";
    else if (this.form === "choice") this.input.value = value;
    else if (document.activeElement !== this.input || !this.typed) this.input.value = value;
  }

  key(event) {
    if (this.form === "choice" || this.form === "yes") return;
    if (event.key === "Enter") this.answer();
    if (event.key === "Escape") {
      this.typed = false;
      this.take();
      this.answer();
    }
  }

  wait() {
    this.typed = true;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.send(), PAUSE);
  }

  answer() {
    clearTimeout(this.timer);
    this.send();
    this.typed = false;
  }

  send() {
    this.timer = undefined;
    const text = this.form === "yes" ? (this.input.checked ? "yes" : "no") : this.input.value;
    if (text === this.sent) return;
    this.sent = text;
    this.dispatchEvent(new CustomEvent("answer", { detail: text }));
  }
}
customElements.define("shop-field", ShopField);

// <drop-mesh to="/job/.../mesh">: drop, paste or choose a mesh file; it goes up as it is and the server reads it.
class DropMesh extends HTMLElement {
  connectedCallback() {
    if (this.firstChild) return;
    this.classList.add("drop");
    this.innerHTML = `<label class="drop-label"><strong>Drop a mesh here, paste it, or <u>choose a file</u></strong>
      <span>STL, OBJ, PLY, 3MF, GLB, also .gz</span><input class="unseen" type="file" accept=".stl,.obj,.ply,.3mf,.glb,.gz"></label>
      <p class="drop-state" role="status"></p>`;
    const input = this.querySelector("input");
    input.addEventListener("change", () => input.files[0] && this.send(input.files[0]));
    for (const name of ["dragover", "dragleave", "drop"])
      this.addEventListener(name, (event) => {
        event.preventDefault();
        this.classList.toggle("over", name === "dragover");
        if (name === "drop" && event.dataTransfer.files[0]) this.send(event.dataTransfer.files[0]);
      });
    addEventListener("paste", (event) => {
      const file = event.clipboardData?.files[0];
      if (file && this.isConnected) this.send(file);
    });
    addEventListener("dragover", (event) => event.preventDefault());
    addEventListener("drop", (event) => event.preventDefault());
  }

  send(file) {
    const state = this.querySelector(".drop-state");
    const request = new XMLHttpRequest();
    request.open("POST", `${this.getAttribute("to")}?name=${encodeURIComponent(file.name)}`);
    request.upload.onprogress = (event) => {
      state.textContent = `Taking ${file.name}: ${Math.round((100 * event.loaded) / event.total)} %`;
    };
    request.upload.onload = () => (state.textContent = `Reading ${file.name} ...`);
    request.onerror = () => (state.textContent = "The app did not answer: is it still running?");
    request.onload = () => {
      let answer = {};
      try {
        answer = JSON.parse(request.responseText);
      } catch {
        answer = { error: `The app refused this file (${request.status}).` };
      }
      state.textContent = answer.error ?? "";
      this.classList.toggle("refused", Boolean(answer.error));
      this.dispatchEvent(new CustomEvent("read", { detail: answer }));
    };
    request.send(file);
  }
}
customElements.define("drop-mesh", DropMesh);
