/* Files go to the server as they are, piece by piece, with progress and a way to stop; nothing is held in the page. */
(function () {
  "use strict";

  let request = null;
  let stopped = false;

  function size(bytes) {
    return bytes >= 1048576 ? (bytes / 1048576).toFixed(1) + " MiB" : Math.max(1, Math.round(bytes / 1024)) + " KiB";
  }

  function send(file, dump, show) {
    return new Promise(function (resolve, reject) {
      request = new XMLHttpRequest();
      const asked = new URLSearchParams({ name: file.name, modified: String(file.lastModified || 0) });
      if (dump) asked.set("dump", dump);
      request.open("PUT", "bring/file?" + asked.toString());
      request.upload.onprogress = function (event) {
        show(file, event.loaded);
      };
      request.onload = function () {
        let answer = null;
        try {
          answer = JSON.parse(request.responseText);
        } catch (error) {
          reject(request.responseText || "The server gave no answer: try again.");
          return;
        }
        if (request.status === 200) resolve(answer.dump);
        else reject(answer.fault);
      };
      request.onerror = function () {
        reject("The connection broke off: bring '" + file.name + "' in again.");
      };
      request.onabort = function () {
        reject("Stopped: nothing of '" + file.name + "' was kept.");
      };
      request.send(file);
    });
  }

  async function bring(files, box) {
    const bar = box.querySelector("progress");
    const told = box.querySelector("[role=status]");
    const stop = box.querySelector("button");
    stopped = false;
    stop.hidden = bar.hidden = false;
    let dump = null;
    try {
      for (const file of files) {
        if (stopped) throw "Stopped.";
        dump = await send(file, dump, function (one, sent) {
          bar.value = one.size ? sent / one.size : 0;
          told.textContent = "Bringing in " + one.name + ": " + size(sent) + " of " + size(one.size);
        });
      }
      told.textContent = "Brought in.";
      window.dash_clientside.set_props("bring-came", { data: { dump: dump } });
    } catch (fault) {
      told.textContent = String(fault);
    } finally {
      stop.hidden = bar.hidden = true;
      request = null;
    }
  }

  function build(box) {
    const label = document.createElement("label");
    const input = document.createElement("input");
    label.textContent = "Choose the files of one dump, or drop them here";
    label.htmlFor = input.id = "bring-input";
    input.type = "file";
    input.multiple = true;
    const bar = document.createElement("progress");
    bar.max = 1;
    bar.hidden = true;
    bar.setAttribute("aria-label", "Share of the file that has been sent");
    const told = document.createElement("p");
    told.setAttribute("role", "status");
    const stop = document.createElement("button");
    stop.type = "button";
    stop.textContent = "Stop";
    stop.hidden = true;
    stop.onclick = function () {
      stopped = true;
      if (request) request.abort();
    };
    box.append(label, input, bar, told, stop);
    input.onchange = function () {
      if (input.files.length) bring(Array.from(input.files), box);
    };
    box.ondragover = function (event) {
      event.preventDefault();
      box.classList.add("over");
    };
    box.ondragleave = function () {
      box.classList.remove("over");
    };
    box.ondrop = function (event) {
      event.preventDefault();
      box.classList.remove("over");
      if (event.dataTransfer.files.length) bring(Array.from(event.dataTransfer.files), box);
    };
  }

  // a small text file goes into a store as it is; the server says what is wrong with it
  function pick(box) {
    const label = document.createElement("label");
    const input = document.createElement("input");
    label.textContent = box.dataset.label;
    label.htmlFor = input.id = box.dataset.store + "-input";
    input.type = "file";
    input.accept = ".toml";
    input.onchange = async function () {
      const file = input.files[0];
      if (!file) return;
      const text = file.size > 1048576 ? null : await file.text();
      window.dash_clientside.set_props(box.dataset.store, { data: { text: text, at: Date.now() } });
      input.value = "";
    };
    box.append(label, input);
  }

  let told = 0;
  const widths = new ResizeObserver(function (entries) {
    const width = Math.round(entries[0].contentRect.width);
    if (width > 0 && width !== told) {
      told = width;
      window.dash_clientside.set_props("bring-width", { data: width });
    }
  });

  new MutationObserver(function () {
    // the list is as wide as the lanes will be, and is there before them
    const list = document.getElementById("bring-names");
    if (list && !list.dataset.watched) {
      list.dataset.watched = "yes";
      told = 0;
      widths.disconnect();
      widths.observe(list);
    }
    for (const one of document.querySelectorAll("[data-store]:not([data-built])")) {
      one.dataset.built = "yes";
      pick(one);
    }
    const box = document.getElementById("bring-drop");
    if (box && !box.dataset.built) {
      box.dataset.built = "yes";
      build(box);
    }
  }).observe(document.documentElement, { childList: true, subtree: true });
})();
