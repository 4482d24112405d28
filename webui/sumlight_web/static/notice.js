// Tells of the end by sound and in the title, also when nobody looks at the page. Sound is asked for by a press, since a
// browser makes none before; the wish is remembered, and silence is one press away. "On" is said only while it can be heard:
// a page that was loaded again, or a phone that took the sound away, waits for a touch and says so.

const KEY = "sumlight-sound";
const CALLS = {
  good: [[660, 0], [880, 0.22], [1180, 0.44]],
  look: [[520, 0], [520, 0.3]],
  bad: [[300, 0], [220, 0.25], [300, 0.5], [220, 0.75]],
};
const ENDS = { done: "good", turn: "look", paused: "look", faulted: "bad" };

export class Notice {
  constructor(button) {
    this.button = button;
    this.state = null;
    this.rested = true;
    this.mark = "";
    this.wanted = false;
    try {
      this.wanted = localStorage.getItem(KEY) === "on";
    } catch {
      // a browser that keeps nothing
    }
    if (!window.AudioContext) return; // nothing is offered that cannot be kept
    button.hidden = false;
    button.addEventListener("click", () => this.toggle());
    // A remembered wish is granted by the first touch of anything; `woke` is what was touched then.
    for (const touch of ["pointerdown", "keydown"]) {
      addEventListener(touch, (event) => {
        const asleep = this.wanted && !this.heard();
        this.woke = asleep ? event.target : null;
        if (asleep) this.unlock();
      });
    }
    this.show();
  }

  heard() {
    return this.voice?.state === "running";
  }

  toggle() {
    if (this.button.contains(this.woke)) { // it said that it waits for a touch, and this was the touch
      this.woke = null;
      return this.show();
    }
    this.wanted = !this.wanted;
    try {
      localStorage.setItem(KEY, this.wanted ? "on" : "off");
    } catch {
      // it holds until the page is left
    }
    if (this.wanted) {
      this.unlock();
      this.call("look");
    }
    this.show();
  }

  show() {
    this.button.setAttribute("aria-pressed", String(this.wanted));
    const { on, off, waits } = this.button.dataset;
    this.button.textContent = !this.wanted ? off : this.heard() ? on : waits;
  }

  unlock() {
    if (!this.voice) {
      this.voice = new AudioContext();
      this.voice.addEventListener("statechange", () => this.show());
    }
    if (this.voice.state === "suspended") this.voice.resume();
  }

  call(kind) {
    if (!this.wanted || !this.heard()) return;
    for (const [pitch, later] of CALLS[kind]) {
      const [tone, volume] = [this.voice.createOscillator(), this.voice.createGain()];
      const at = this.voice.currentTime + later;
      tone.type = "triangle";
      tone.frequency.value = pitch;
      volume.gain.setValueAtTime(0.0001, at);
      volume.gain.exponentialRampToValueAtTime(0.4, at + 0.02);
      volume.gain.exponentialRampToValueAtTime(0.0001, at + 0.2);
      tone.connect(volume).connect(this.voice.destination);
      tone.start(at);
      tone.stop(at + 0.22);
    }
    this.called = kind;
  }

  // Whether something is still to come that ought to be told.
  waits() {
    return ["light", "dark_check", "vacuum"].includes(this.state) || !this.rested;
  }

  take(state, rested) {
    const before = this.state;
    if (state !== "unknown") this.state = state;
    if (before === "light" && ENDS[state]) this.tell(ENDS[state]);
    if (state === "done" && rested && !this.rested && before === "done") this.tell("good");
    if (state !== "unknown") this.rested = state !== "done" || rested;
  }

  tell(kind) {
    this.call(kind);
    if (document.hidden || !document.hasFocus()) this.mark = kind === "bad" ? "‼ " : "● ";
    this.button.dataset.told = kind;
  }

  titled(title) {
    return this.mark + title;
  }

  seen() {
    this.mark = "";
  }
}

