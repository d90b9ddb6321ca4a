// Plays a tempo plan (the JSON of the Go package tempo) on Web Audio's clock.
// The times of all sounds are computed from whole numbers, never added up;
// a timer only decides when the next few are handed to the audio system, so
// a late timer moves nothing.

const UNITS_PER_STEP = 2 * 60000 * 1000; // see schedule.go
const SIGNAL_LEAD_MS = 200;

// thousandths of a step a minute, as a whole number
const milli = (cadence) => Math.round(cadence * 1000);

const sounding = (part) => part.kind === 'steps' || part.kind === 'count-in';

// soundOf is the name of the k-th step's sound; even steps are left.
function soundOf(part, k) {
  const side = k % 2 === 0 ? 'left' : 'right';
  return part.kind === 'count-in' ? 'count-' + side : side;
}

// stepMS is the time (ms) after a part's start at which the beat has moved on
// by delta units.
function stepMS(part, delta) {
  const c0 = milli(part.from), c1 = milli(part.to);
  if (c0 === c1) return delta / (2 * c0);
  const a = (c1 - c0) / part.ms, b = 2 * c0;
  return (2 * delta) / (b + Math.sqrt(b * b + 4 * a * delta));
}

// events yields every sound of a plan in order:
// {time: seconds from the start, sound, part: its index}.
export function* events(plan) {
  if (plan.version !== 1) throw new Error('tempo: a plan of version ' + plan.version + ' can’t be played here');
  let start = 0, phase = 0, beating = false;
  for (const [index, part] of plan.parts.entries()) {
    if (sounding(part)) {
      if (!beating) phase = 0;
      const end = phase + (milli(part.from) + milli(part.to)) * part.ms;
      for (let k = Math.ceil(phase / UNITS_PER_STEP); k * UNITS_PER_STEP < end; k++) {
        yield { time: (start + stepMS(part, k * UNITS_PER_STEP - phase)) / 1000, sound: soundOf(part, k), part: index };
      }
      phase = end % (2 * UNITS_PER_STEP);
    } else if (part.kind === 'signal') {
      yield { time: (start + SIGNAL_LEAD_MS) / 1000, sound: part.signal, part: index };
    }
    beating = sounding(part);
    start += part.ms;
  }
}

// length is the plan's length in seconds.
export const length = (plan) => plan.parts.reduce((ms, part) => ms + part.ms, 0) / 1000;

// The sounds, as in voice.go: tones of
// [from ms, length ms, attack ms, decay ms, fade ms, [[Hz, share]…]].
const LOW = [[740, 1], [1480, 0.45], [2220, 0.2]];
const HIGH = [[1175, 1], [3243, 0.3]];
const step = (peak, decay, partials) => ({ peak, tones: [[0, 90, 4, decay, 20, partials]] });
const chime = (...pitches) => ({
  peak: 0.35,
  tones: pitches.map((hz, i) => [i * 330, 330, 40, 160, 120, [[hz, 1], [2 * hz, 0.2]]]),
});
const C5 = 523.25, E5 = 659.26, G5 = 783.99;

const RECIPES = {
  'left': step(0.6, 22, LOW),
  'right': step(0.6, 18, HIGH),
  'count-left': step(0.3, 14, LOW.slice(0, 1)),
  'count-right': step(0.3, 14, HIGH.slice(0, 1)),
  'start': chime(C5, E5, G5),
  'end': chime(G5, E5, C5),
  'next': chime(G5, G5),
  'off': chime(E5, C5),
  'on': chime(C5, E5),
};

export const sounds = Object.keys(RECIPES);

const rise = (x) => (1 - Math.cos(Math.PI * Math.min(x, 1))) / 2;

// samples renders a sound at a sample rate.
export function samples(name, sampleRate) {
  const { peak, tones } = RECIPES[name];
  const last = tones[tones.length - 1];
  const x = new Float32Array(Math.floor(((last[0] + last[1]) * sampleRate) / 1000));
  let largest = 0;
  for (const [from, long, attack, decay, fade, partials] of tones) {
    for (let i = Math.ceil((from * sampleRate) / 1000); i < x.length; i++) {
      const t = (i * 1000) / sampleRate - from;
      if (t >= long) break;
      let sum = 0;
      for (const [hz, share] of partials) sum += share * Math.sin((2 * Math.PI * hz * t) / 1000);
      x[i] = rise(t / attack) * Math.exp(-t / decay) * rise((long - t) / fade) * sum;
      largest = Math.max(largest, Math.abs(x[i]));
    }
  }
  return x.map((v) => (v / largest) * peak);
}

// Player plays one plan once. The options:
//   ahead    seconds of sound that lie ready; more than the minute for which
//            browsers may hold up the timers of a page in the background
//   every    seconds between looks
//   volume   0…1
//   onEvent  called with {time, sound, part, at} once a sound is handed over,
//            at being its time on the context's clock
//   onEnd    called when the track is over
//   timer    {set(callback, ms) → id, clear(id)}, for tests
export class Player {
  constructor(context, plan, options = {}) {
    this.context = context;
    this.plan = plan;
    this.options = {
      ahead: 75, every: 0.25, volume: 1, onEvent() {}, onEnd() {},
      timer: { set: (f, ms) => setTimeout(f, ms), clear: (id) => clearTimeout(id) },
      ...options,
    };
    this.missed = 0; // sounds whose time was over before they could be handed over
    this.state = 'new'; // then playing, paused, ended
    this.ready = new Set();
    this.buffers = new Map(sounds.map((name) => [name, this.buffer(name)]));
    this.gain = context.createGain();
    this.gain.gain.value = this.options.volume;
    this.gain.connect(context.destination);
    this.rewind(0);
  }

  buffer(name) {
    const x = samples(name, this.context.sampleRate);
    const b = this.context.createBuffer(1, x.length, this.context.sampleRate);
    b.copyToChannel(x, 0);
    return b;
  }

  // rewind makes the first sound at or after a position the next one.
  rewind(position) {
    this.source = events(this.plan);
    do this.next = this.source.next(); while (!this.next.done && this.next.value.time < position);
  }

  // start plays from the beginning, or goes on after pause. The context must
  // be running: browsers allow that in answer to a person's action, where
  // the page calls context.resume().
  start() {
    if (this.state === 'playing' || this.state === 'ended') return;
    const position = this.state === 'paused' ? this.pausedAt : 0;
    const rate = this.context.sampleRate;
    this.firstFrame = Math.ceil((this.context.currentTime + 0.1 - position) * rate);
    this.origin = this.firstFrame / rate; // the plan's start on the context's clock
    this.state = 'playing';
    this.look();
  }

  // position is seconds from the plan's start.
  get position() {
    if (this.state === 'new') return 0;
    if (this.state === 'paused') return this.pausedAt;
    return Math.min(Math.max(this.context.currentTime - this.origin, 0), length(this.plan));
  }

  pause() {
    if (this.state !== 'playing') return;
    this.pausedAt = this.position;
    this.silence();
    this.rewind(this.pausedAt);
    this.state = 'paused';
  }

  stop() {
    this.silence();
    this.state = 'ended';
  }

  // volume takes effect at once, without a click.
  set volume(v) { this.gain.gain.setTargetAtTime(v, this.context.currentTime, 0.02); }

  silence() {
    this.options.timer.clear(this.timer);
    for (const node of this.ready) { node.onended = null; node.stop(); node.disconnect(); }
    this.ready.clear();
  }

  // look hands over what falls due within the time ahead, and comes back.
  look() {
    if (this.state !== 'playing') return;
    const now = this.context.currentTime;
    while (!this.next.done && this.origin + this.next.value.time < now + this.options.ahead) {
      this.hand(this.next.value, now);
      this.next = this.source.next();
    }
    if (this.next.done && now - this.origin >= length(this.plan)) {
      this.state = 'ended';
      this.options.onEnd();
      return;
    }
    this.timer = this.options.timer.set(() => this.look(), this.options.every * 1000);
  }

  // hand gives one sound to the audio system, at a whole sample, so that
  // equal sounds are equal to the last bit. A sound whose time is over is
  // left out: late sounds would come in a burst.
  hand(event, now) {
    const rate = this.context.sampleRate;
    const at = (this.firstFrame + Math.round(event.time * rate)) / rate;
    if (at < now) {
      this.missed++;
      return;
    }
    const node = this.context.createBufferSource();
    node.buffer = this.buffers.get(event.sound);
    node.connect(this.gain);
    node.onended = () => { this.ready.delete(node); node.disconnect(); };
    node.start(at);
    this.ready.add(node);
    this.options.onEvent({ ...event, at });
  }
}
