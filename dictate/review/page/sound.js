// The sound of one finding. Playing again starts again; playing while it plays stops it.

import { soundAt } from "./api.js";
import { say } from "./dom.js";

const player = new Audio();
let playing = "";

player.addEventListener("ended", () => (playing = ""));

export async function play(sound, { slowly = false } = {}) {
  if (!sound) {
    say("There is no sound of this.");
    return;
  }
  const source = soundAt(sound);
  if (playing === source && !player.paused) {
    stop();
    return;
  }
  player.src = source;
  player.playbackRate = slowly ? 0.7 : 1;
  playing = source;
  try {
    await player.play();
    say(slowly ? "Playing slowly." : "Playing.");
  } catch (fault) {
    playing = "";
    if (fault.name !== "AbortError") say("The sound cannot be played; it may not be kept any more.");
  }
}

export function stop() {
  player.pause();
  playing = "";
}
