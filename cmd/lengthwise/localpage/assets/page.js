// The local page's script: dropping files, and the progress of a job.
"use strict";
(() => {
  const form = document.getElementById("drop");
  if (form) {
    const list = document.getElementById("taken");
    const say = (words, bad) => {
      const item = document.createElement("li");
      item.textContent = words;
      if (bad) item.className = "bad";
      list.append(item);
      return item;
    };
    for (const hidden of document.querySelectorAll(".only-scripts")) hidden.hidden = false;

    // One file after the other: the program writes one at a time anyway.
    const send = async (files) => {
      if (files.length === 0) return;
      let taken = 0, refused = 0;
      const at = say("");
      for (const { path, file } of files) {
        at.textContent = `Copying ${taken + refused + 1} of ${files.length}: ${path}`;
        try {
          const answer = await fetch("/file?path=" + encodeURIComponent(path), { method: "PUT", body: file });
          if (!answer.ok) throw new Error(await answer.text());
          const got = await answer.json();
          if (got.taken) taken++;
          else { refused++; say(`${got.path}: ${got.words}`, true); }
        } catch (error) {
          refused++;
          say(`${path}: ${error.message}`, true);
        }
      }
      at.textContent = `${taken} copied${refused ? `, ${refused} not` : ""}.`;
      if (!refused) location.assign("/");
      else say("Reload the page to go on.").append(" ", Object.assign(document.createElement("a"), { href: "/", textContent: "Go on" }));
    };

    // The one folder that was chosen or dropped is the squad's: what is in it counts.
    const within = (path) => path.slice(path.indexOf("/") + 1);
    const ofInput = (input) => [...input.files].map((file) => ({ path: within(file.webkitRelativePath) || file.name, file }))
      .filter(({ path }) => !path.split("/").some((part) => part.startsWith(".")));
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      send([...ofInput(document.getElementById("pick")), ...ofInput(document.getElementById("folder"))]);
    });

    // A dropped folder comes as a tree of entries, each listed in portions.
    const walk = async (entry, into) => {
      if (entry.isFile) {
        const file = await new Promise((done, failed) => entry.file(done, failed));
        into.push({ path: entry.fullPath.replace(/^\//, ""), file });
        return;
      }
      const reader = entry.createReader();
      for (;;) {
        const some = await new Promise((done, failed) => reader.readEntries(done, failed));
        if (some.length === 0) return;
        for (const one of some) if (!one.name.startsWith(".")) await walk(one, into);
      }
    };
    for (const kind of ["dragover", "dragleave", "drop"]) {
      form.addEventListener(kind, (event) => {
        event.preventDefault();
        form.classList.toggle("over", kind === "dragover");
      });
    }
    form.addEventListener("drop", async (event) => {
      const entries = [...event.dataTransfer.items].map((item) => item.webkitGetAsEntry && item.webkitGetAsEntry()).filter(Boolean);
      const files = [];
      for (const entry of entries) await walk(entry, files);
      if (entries.length === 1 && entries[0].isDirectory) for (const one of files) one.path = within(one.path);
      await send(files);
    });
  }

  if (document.querySelector("[data-job]")) {
    const bar = document.getElementById("bar"), phase = document.getElementById("phase");
    const ask = async () => {
      try {
        const job = await (await fetch("/progress")).json();
        if (!job.active) return location.assign("/#job"), location.reload();
        if (job.total) { bar.max = job.total; bar.value = job.done; }
        phase.textContent = job.phase ? `${job.phase}: ${job.done} of ${job.total}` : "beginning";
        setTimeout(ask, 400);
      } catch {
        phase.textContent = "The program does not answer; was it ended?";
      }
    };
    setTimeout(ask, 200);
  }
})();
