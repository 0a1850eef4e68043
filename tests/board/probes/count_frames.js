() => {
  // window.seenSequence is the sequence number of the newest frame that has been drawn
  const parse = JSON.parse;
  window.seenSequence = 0;
  JSON.parse = (text, ...more) => {
    const made = parse(text, ...more);
    if (made && made.seq) setTimeout(() => { window.seenSequence = made.seq; }, 30);
    return made;
  };
}
