// The words of a page's scripts. The page brings them in its own language
// (data-say, from the English message to its translation).
const words = Object.assign({}, ...[...document.querySelectorAll('script[data-say]')].map((one) => JSON.parse(one.dataset.say)));

// say gives a message in the page's language, with values in place of its
// verbs (%s, %d, or %[2]s for the second).
export function say(message, ...values) {
  let next = 0;
  return (words[message] ?? message).replace(/%(?:\[(\d+)\])?([sd%])/g, (_, index, verb) => {
    if (verb === '%') return '%';
    if (index) next = index - 1;
    return values[next++];
  });
}
