// The phone's page: photos go to the computer, one after the other.

const list = document.getElementById("sent");
let sending = Promise.resolve();

function send(file) {
  const line = document.createElement("li"), name = document.createElement("span"), how = document.createElement("progress"), gap = document.createElement("span");
  name.textContent = file.name || "A photo";
  how.max = 1; how.value = 0;
  how.setAttribute("aria-label", "Sending " + name.textContent);
  line.append(gap, name, how);
  list.prepend(line);
  const end = (words) => { const said = document.createElement("span"); said.textContent = words; how.replaceWith(said); };
  sending = sending.then(() => new Promise((done) => {
    const r = new XMLHttpRequest();
    r.open("POST", "photos");
    r.setRequestHeader("Content-Type", "application/octet-stream");
    r.setRequestHeader("X-Name", encodeURIComponent(file.name || "photo.jpg"));
    r.upload.onprogress = (e) => { if (e.lengthComputable) how.value = e.loaded / e.total; };
    r.onerror = () => { end("greige does not answer: it may have ended"); done(); };
    r.onload = () => {
      let body = {};
      try { body = JSON.parse(r.responseText); } catch { /* said below */ }
      end(r.status === 200 ? "Sent" : body.reason || "That did not work");
      done();
    };
    r.send(file);
  }));
}

for (const id of ["shot", "roll"]) {
  const input = document.getElementById(id);
  input.addEventListener("change", () => { for (const f of input.files) send(f); input.value = ""; });
}
