// Plays a plan's steps on the page.
import { Player } from './beat.js';

for (const place of document.querySelectorAll('[data-beat]')) {
  const button = place.querySelector('[data-play]'), said = place.querySelector('[data-said]');
  const plan = JSON.parse(place.dataset.beat);
  let context, player;
  button.disabled = false;
  said.textContent = '';
  button.addEventListener('click', async () => {
    if (player?.state === 'playing') {
      player.pause();
      button.textContent = 'Go on';
      said.textContent = 'Paused';
      return;
    }
    context ??= new AudioContext();
    await context.resume();
    if (!player || player.state === 'ended') {
      player = new Player(context, plan, { onEnd() { button.textContent = 'Play the steps'; said.textContent = 'Over'; } });
    }
    player.start();
    button.textContent = 'Pause';
    said.textContent = 'Playing';
  });
}
