// Light: everything that the page computes with pictures. Codes are turned to
// linear light before anything is averaged, and back only to be shown. The
// numbers (kernels, matrices, greys) come from the program, in data-eye.

const eye = JSON.parse(document.querySelector("[data-eye]").getAttribute("data-eye"));

// sRGB: linear light of each 8-bit code, and the code of 65536 steps of light.
const lightOf = new Float32Array(256);
for (let i = 0; i < 256; i++) {
  const c = i / 255;
  lightOf[i] = c <= 0.04045 ? c / 12.92 : Math.pow((c + 0.055) / 1.055, 2.4);
}
const codeOf = new Uint8Array(65536);
for (let i = 0; i < 65536; i++) {
  const v = i / 65535;
  codeOf[i] = Math.round(255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * Math.pow(v, 1 / 2.4) - 0.055));
}
function code(v) { return codeOf[v <= 0 ? 0 : v >= 1 ? 65535 : (v * 65535 + 0.5) | 0]; }

// The luminance of a CIE L*.
function luminance(l) { return l > 8 ? Math.pow((l + 16) / 116, 3) : l * 27 / 24389; }

const drawing = { willReadFrequently: true };

// Some browsers disturb what a page reads back of a picture, to keep pages
// from telling people apart. Then nothing can be computed here.
function canRead() {
  try {
    const c = document.createElement("canvas");
    c.width = 16;
    c.height = 4;
    const g = c.getContext("2d", drawing);
    const p = g.createImageData(16, 4);
    for (let i = 0; i < p.data.length; i++) { p.data[i] = i % 4 === 3 ? 255 : (i * 37) % 256; }
    g.putImageData(p, 0, 0);
    const q = g.getImageData(0, 0, 16, 4).data;
    return q.every(function (v, i) { return v === p.data[i]; });
  } catch (e) {
    return false;
  }
}

// The pixels of an image element, RGBA.
function pixelsOf(img) {
  const c = document.createElement("canvas");
  c.width = img.naturalWidth;
  c.height = img.naturalHeight;
  const g = c.getContext("2d", drawing);
  g.drawImage(img, 0, 0);
  return g.getImageData(0, 0, c.width, c.height);
}

// For each of n target pixels, which of m source pixels it covers, and how
// much of it each has.
function spans(m, n) {
  const out = [], step = m / n;
  for (let i = 0; i < n; i++) {
    const lo = i * step, hi = Math.min((i + 1) * step, m), share = [];
    const first = Math.floor(lo + 1e-9);
    for (let k = first; k < hi - 1e-9; k++) { share.push((Math.min(hi, k + 1) - Math.max(lo, k)) / step); }
    out.push({ first: first, share: share });
  }
  return out;
}

// A picture averaged by areas, in linear light, down to w x h: three numbers a
// pixel.
function reduced(p, w, h) {
  const W = p.width, H = p.height, data = p.data;
  const across = spans(W, w), down = spans(H, h), narrow = new Float32Array(3 * w), out = new Float32Array(3 * w * h);
  let have = -1;
  function row(y) {
    if (have === y) { return; }
    have = y;
    for (let x = 0; x < w; x++) {
      const s = across[x];
      let r = 0, g = 0, b = 0, i = 4 * (y * W + s.first);
      for (let k = 0; k < s.share.length; k++, i += 4) {
        const a = s.share[k];
        r += a * lightOf[data[i]];
        g += a * lightOf[data[i + 1]];
        b += a * lightOf[data[i + 2]];
      }
      narrow[3 * x] = r;
      narrow[3 * x + 1] = g;
      narrow[3 * x + 2] = b;
    }
  }
  for (let y = 0; y < h; y++) {
    const s = down[y], o = 3 * w * y;
    for (let k = 0; k < s.share.length; k++) {
      row(s.first + k);
      const a = s.share[k];
      for (let i = 0; i < 3 * w; i++) { out[o + i] += a * narrow[i]; }
    }
  }
  return { w: w, h: h, light: out };
}

// A Gaussian blur of a plane of w x h, one direction at a time: by its own
// weights while it is narrow, by three running means where it is wide. At the
// edge it divides by the part of the kernel that lies inside.
const widestByWeights = 6;
function blurred(plane, w, h, sigma) {
  const a = new Float32Array(plane.length), b = new Float32Array(plane.length);
  if (sigma <= 0.05) { return plane.slice(); }
  if (sigma <= widestByWeights) {
    const k = [1];
    for (let i = 1; i <= 4 * sigma; i++) { k.push(Math.exp(-i * i / (2 * sigma * sigma))); }
    weigh(a, plane, k, h, w, w, 1);
    weigh(b, a, k, w, h, 1, w);
    return b;
  }
  b.set(plane);
  boxes(sigma).forEach(function (radius) {
    mean(a, b, radius, h, w, w, 1);
    mean(b, a, radius, w, h, 1, w);
  });
  return b;
}

function weigh(to, from, k, lines, n, stride, step) {
  const r = k.length - 1, line = new Float32Array(n + 2 * r), norm = new Float32Array(n);
  for (let i = 0; i < n; i++) {
    for (let d = -r; d <= r; d++) { if (i + d >= 0 && i + d < n) { norm[i] += k[Math.abs(d)]; } }
  }
  for (let j = 0; j < lines; j++) {
    const at = j * stride;
    for (let i = 0; i < n; i++) { line[r + i] = from[at + i * step]; }
    for (let i = 0; i < n; i++) {
      let sum = k[0] * line[r + i];
      for (let d = 1; d <= r; d++) { sum += k[d] * (line[r + i - d] + line[r + i + d]); }
      to[at + i * step] = sum / norm[i];
    }
  }
}

// The radii of three running means with the variance of a Gaussian.
function boxes(sigma) {
  let narrow = Math.floor(Math.sqrt(4 * sigma * sigma + 1));
  if (narrow % 2 === 0) { narrow--; }
  const m = Math.round((12 * sigma * sigma - 3 * narrow * narrow - 12 * narrow - 9) / (-4 * narrow - 4));
  return [0, 1, 2].map(function (i) { return (narrow - 1) / 2 + (i >= m ? 1 : 0); });
}

function mean(to, from, radius, lines, n, stride, step) {
  for (let j = 0; j < lines; j++) {
    const at = j * stride;
    let sum = 0;
    for (let i = 0; i < Math.min(radius, n); i++) { sum += from[at + i * step]; }
    for (let i = 0; i < n; i++) {
      if (i + radius < n) { sum += from[at + (i + radius) * step]; }
      if (i - radius - 1 >= 0) { sum -= from[at + (i - radius - 1) * step]; }
      to[at + i * step] = sum / (Math.min(i + radius, n - 1) - Math.max(i - radius, 0) + 1);
    }
  }
}

// What half closed eyes make of a picture of linear light of which perDegree
// pixels cover a degree: each opponent channel blurred by its own kernels.
// shrunk is by how much the picture was averaged down before, which has
// blurred it a little already.
function squinted(p, perDegree, shrunk) {
  const n = p.w * p.h, to = eye.toOpponent, back = eye.toLight, out = new Float32Array(3 * n);
  const done = (1 - 1 / (shrunk * shrunk)) / 12; // the variance of that mean
  eye.kernels.forEach(function (kernels, c) {
    const plane = new Float32Array(n), sum = new Float32Array(n);
    for (let i = 0; i < n; i++) {
      plane[i] = to[c][0] * p.light[3 * i] + to[c][1] * p.light[3 * i + 1] + to[c][2] * p.light[3 * i + 2];
    }
    kernels.forEach(function (k) {
      const sigma = k.spread / Math.SQRT2 * perDegree;
      const b = blurred(plane, p.w, p.h, Math.sqrt(Math.max(sigma * sigma - done, 0)));
      for (let i = 0; i < n; i++) { sum[i] += k.weight * b[i]; }
    });
    for (let i = 0; i < n; i++) {
      out[3 * i] += back[0][c] * sum[i];
      out[3 * i + 1] += back[1][c] * sum[i];
      out[3 * i + 2] += back[2][c] * sum[i];
    }
  });
  return { w: p.w, h: p.h, light: out };
}

function luminances(p) {
  const out = new Float32Array(p.w * p.h), y = eye.luminance;
  for (let i = 0; i < out.length; i++) {
    out[i] = y[0] * p.light[3 * i] + y[1] * p.light[3 * i + 1] + y[2] * p.light[3 * i + 2];
  }
  return out;
}

// Show a picture of linear light on a canvas, in colour or in the grey of Y.
function showLight(canvas, p, inColour) {
  canvas.width = p.w;
  canvas.height = p.h;
  const g = canvas.getContext("2d", drawing), img = g.createImageData(p.w, p.h), d = img.data;
  const y = inColour ? null : luminances(p);
  for (let i = 0; i < p.w * p.h; i++) {
    if (inColour) {
      d[4 * i] = code(p.light[3 * i]);
      d[4 * i + 1] = code(p.light[3 * i + 1]);
      d[4 * i + 2] = code(p.light[3 * i + 2]);
    } else {
      d[4 * i] = d[4 * i + 1] = d[4 * i + 2] = code(y[i]);
    }
    d[4 * i + 3] = 255;
  }
  g.putImageData(img, 0, 0);
}

// Show a picture of linear light in a few greys on a canvas of W x H, so that
// their edges are sharp. cuts and greys are L*, from light to dark.
function showFew(canvas, p, W, H, cuts, greys) {
  canvas.width = W;
  canvas.height = H;
  const g = canvas.getContext("2d", drawing), img = g.createImageData(W, H), d = new Uint32Array(img.data.buffer);
  const y = luminances(p), limit = cuts.map(luminance);
  const grey = greys.map(function (l) {
    const c = code(luminance(l));
    return new Uint32Array(new Uint8Array([c, c, c, 255]).buffer)[0];
  });
  function places(n, m) {
    const out = [];
    for (let i = 0; i < n; i++) {
      const x = Math.min(Math.max((i + 0.5) * m / n - 0.5, 0), m - 1), at = Math.floor(x);
      out.push([at, Math.min(at + 1, m - 1), x - at]);
    }
    return out;
  }
  const columns = places(W, p.w), rows = places(H, p.h), line = new Float32Array(p.w);
  for (let j = 0; j < H; j++) {
    const r = rows[j], upper = r[0] * p.w, lower = r[1] * p.w;
    for (let i = 0; i < p.w; i++) { line[i] = y[upper + i] + (y[lower + i] - y[upper + i]) * r[2]; }
    for (let i = 0; i < W; i++) {
      const c = columns[i], v = line[c[0]] + (line[c[1]] - line[c[0]]) * c[2];
      let step = 0;
      while (step < limit.length && v < limit[step]) { step++; }
      d[j * W + i] = grey[step];
    }
  }
  g.putImageData(img, 0, 0);
}

// Change the pixels, RGBA, to the grey of their CIE Y.
function greyed(data) {
  const y = eye.luminance;
  for (let i = 0; i < data.length; i += 4) {
    data[i] = data[i + 1] = data[i + 2] = code(y[0] * lightOf[data[i]] + y[1] * lightOf[data[i + 1]] + y[2] * lightOf[data[i + 2]]);
  }
}

// Change the pixels, RGBA, to what a viewer without some cones sees (Machado
// and others 2009, on linear light).
function weaken(data, m) {
  for (let i = 0; i < data.length; i += 4) {
    const r = lightOf[data[i]], g = lightOf[data[i + 1]], b = lightOf[data[i + 2]];
    data[i] = code(m[0][0] * r + m[0][1] * g + m[0][2] * b);
    data[i + 1] = code(m[1][0] * r + m[1][1] * g + m[1][2] * b);
    data[i + 2] = code(m[2][0] * r + m[2][1] * g + m[2][2] * b);
  }
}
