/* Lines with far more samples than the screen has columns, drawn so that no spike is lost.

   A line is { time, values }: two arrays of one length, time increasing, NaN where the line breaks. */

/* The first place whose time is not before `at`. */
export function firstFrom(time, at) {
  let low = 0, high = time.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (time[middle] < at) { low = middle + 1; } else { high = middle; }
  }
  return low;
}

/* Times of the two points that every column has, at a quarter and at three quarters of it. */
export function columnTimes(from, to, count) {
  const width = (to - from) / count, times = new Array(2 * count);
  for (let k = 0; k < count; k += 1) {
    times[2 * k] = from + (k + 0.25) * width;
    times[2 * k + 1] = from + (k + 0.75) * width;
  }
  return times;
}

/* The lowest and the highest sample of every column, in the order they came; a column between two samples gets the
   straight line between them; null where the line is broken. `shift` is added to the line's times. */
export function columnsOf(line, from, to, count, shift = 0) {
  const { time, values } = line, width = (to - from) / count, found = new Array(2 * count).fill(null);
  let place = firstFrom(time, from - shift);
  for (let k = 0; k < count; k += 1) {
    const end = from + (k + 1) * width - shift;
    let low = -1, high = -1;
    for (; place < time.length && time[place] < end; place += 1) {
      const value = values[place];
      if (Number.isNaN(value)) { continue; }
      if (low < 0 || value < values[low]) { low = place; }
      if (high < 0 || value > values[high]) { high = place; }
    }
    if (low >= 0) {
      found[2 * k] = values[Math.min(low, high)];
      found[2 * k + 1] = values[Math.max(low, high)];
    } else {
      found[2 * k] = between(time, values, place, end - 0.75 * width);
      found[2 * k + 1] = between(time, values, place, end - 0.25 * width);
    }
  }
  return found;
}

function between(time, values, after, at) {
  if (after === 0 || after >= time.length) { return null; }
  const first = values[after - 1], second = values[after];
  if (Number.isNaN(first) || Number.isNaN(second)) { return null; }
  const share = (at - time[after - 1]) / (time[after] - time[after - 1]);
  return first + share * (second - first);
}

/* The sample nearest to a time, as it was written; NaN where there is none within `reach` seconds. */
export function sampleAt(line, at, reach) {
  const { time, values } = line, after = firstFrom(time, at);
  let best = NaN, distance = reach;
  for (const place of [after - 1, after]) {
    if (place < 0 || place >= time.length || Number.isNaN(values[place])) { continue; }
    const away = Math.abs(time[place] - at);
    if (away <= distance) { best = values[place]; distance = away; }
  }
  return best;
}

/* Centred means over `seconds`; a break stays a break. */
export function meansOf(line, seconds) {
  const { time, values } = line;
  if (seconds <= 1) { return line; }
  const means = new Float32Array(values.length), half = seconds / 2;
  let from = 0, to = 0, sum = 0, count = 0;
  for (let k = 0; k < values.length; k += 1) {
    for (; to < values.length && time[to] <= time[k] + half; to += 1) {
      if (!Number.isNaN(values[to])) { sum += values[to]; count += 1; }
    }
    for (; time[from] < time[k] - half; from += 1) {
      if (!Number.isNaN(values[from])) { sum -= values[from]; count -= 1; }
    }
    means[k] = Number.isNaN(values[k]) ? NaN : sum / count;
  }
  return { time, values: means };
}
