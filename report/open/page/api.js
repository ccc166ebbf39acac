// The page's way to the program: a few addresses on this computer.

async function got(answer) {
  const body = await answer.json();
  if (!answer.ok) throw Object.assign(new Error(body.reason || "that did not work"), { hint: body.hint });
  return body;
}

export const state = async () => got(await fetch("state"));

export const get = async (where) => got(await fetch(where));

export const post = async (where, body) =>
  got(await fetch(where, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body || {}) }));

// send brings a photo to the program, to a place there; progress is told its share, 0 to 1.
export function send(file, progress, where = "photos") {
  return new Promise((resolve, reject) => {
    const r = new XMLHttpRequest();
    r.open("POST", where);
    r.setRequestHeader("Content-Type", "application/octet-stream");
    r.setRequestHeader("X-Name", encodeURIComponent(file.name || "photo.jpg"));
    r.upload.onprogress = (e) => progress(e.lengthComputable ? e.loaded / e.total : 0);
    r.onerror = () => reject(new Error("greige does not answer: it may have ended"));
    r.onload = () => {
      let body = {};
      try { body = JSON.parse(r.responseText); } catch { /* said below */ }
      if (r.status === 200) resolve(body);
      else reject(Object.assign(new Error(body.reason || "that did not work"), { hint: body.hint }));
    };
    r.send(file);
  });
}
