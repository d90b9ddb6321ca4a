// Plays a plan's steps on the page.
import { Player } from './beat.js';
import { say } from './say.js';

for (const place of document.querySelectorAll('[data-beat]')) {
  const button = place.querySelector('[data-play]'), said = place.querySelector('[data-said]');
  const plan = JSON.parse(place.dataset.beat);
  let context, player;
  button.disabled = false;
  said.textContent = '';
  button.addEventListener('click', async () => {
    if (player?.state === 'playing') {
      player.pause();
      button.textContent = say('Go on');
      said.textContent = say('Paused');
      return;
    }
    context ??= new AudioContext();
    await context.resume();
    if (!player || player.state === 'ended') {
      player = new Player(context, plan, { onEnd() { button.textContent = say('Play the steps'); said.textContent = say('Over'); } });
    }
    player.start();
    button.textContent = say('Pause');
    said.textContent = say('Playing');
  });
}
