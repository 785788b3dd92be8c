/* Files go up as they are, one after the other, with their progress; then all are taken together. */
(function () {
  "use strict";
  var ROUTE = "/logs/uploads";

  function make(name, props, children) {
    var node = Object.assign(document.createElement(name), props || {});
    (children || []).forEach(function (child) {
      node.append(child);
    });
    return node;
  }

  function size(bytes) {
    if (bytes < 1e6) {
      return Math.max(1, Math.round(bytes / 1e3)) + " kB";
    }
    return (bytes / 1e6).toFixed(1) + " MB";
  }

  function send(url, body, told) {
    return new Promise(function (done, failed) {
      var request = new XMLHttpRequest();
      request.open("POST", url);
      request.responseType = "json";
      if (body) {
        request.setRequestHeader("Content-Type", "application/octet-stream");
      }
      request.upload.onprogress = function (event) {
        if (told && event.lengthComputable) {
          told(event.loaded / event.total);
        }
      };
      request.onload = function () {
        if (request.status < 300) {
          done(request.response);
        } else {
          failed(new Error((request.response && request.response.error) || "It was refused."));
        }
      };
      request.onerror = function () {
        failed(new Error("The server cannot be reached."));
      };
      request.send(body || null);
    });
  }

  function field(id) {
    var input = document.getElementById(id);
    return input ? input.value.trim() : "";
  }

  async function bring(files, list, status, input) {
    list.replaceChildren();
    input.disabled = true;
    try {
      var batch = (await send(ROUTE)).batch;
      var arrived = 0;
      for (var file of files) {
        var bar = make("progress", { max: 1, value: 0 });
        var said = make("span", { textContent: size(file.size) });
        bar.setAttribute("aria-label", "Sending " + file.name);
        list.append(make("li", {}, [make("span", { textContent: file.name }), bar, said]));
        status.textContent = "Sending " + file.name;
        try {
          await send(
            ROUTE + "/" + batch + "/files?name=" + encodeURIComponent(file.name),
            file,
            function (share) {
              bar.value = share;
            }
          );
          bar.value = 1;
          arrived += 1;
        } catch (error) {
          bar.replaceWith(make("strong", { textContent: error.message }));
        }
      }
      if (!arrived) {
        status.textContent = "No file arrived.";
        return;
      }
      var asked = new URLSearchParams();
      if (field("logs-site")) {
        asked.set("site", field("logs-site"));
      }
      if (field("logs-zone")) {
        asked.set("time_zone", field("logs-zone"));
      }
      var job = (await send(ROUTE + "/" + batch + "/take?" + asked)).job;
      status.textContent =
        arrived + (arrived === 1 ? " file has arrived." : " files have arrived.");
      window.history.pushState({}, "", "/logs?job=" + encodeURIComponent(job));
      window.dispatchEvent(new CustomEvent("_dashprivate_pushstate"));
    } catch (error) {
      status.textContent = error.message;
    } finally {
      input.disabled = false;
      input.value = "";
    }
  }

  window.eventlabUpload = function (place) {
    if (!place || place.firstChild) {
      return;
    }
    var input = make("input", { type: "file", multiple: true, id: "logs-files" });
    var list = make("ul", { className: "drop-list" });
    var status = make("p", { className: "drop-status" });
    status.setAttribute("role", "status");
    var label = make("label", { className: "drop-label" }, [
      make("span", { className: "drop-title", textContent: "Drop exported logs here" }),
      make("span", {
        className: "drop-hint",
        textContent: "or choose files: logs, site list, zone schedule, weather, visits, outcomes",
      }),
    ]);
    label.htmlFor = "logs-files";
    place.append(input, label, status, list);
    input.addEventListener("change", function () {
      if (input.files.length) {
        bring(Array.from(input.files), list, status, input);
      }
    });
    ["dragenter", "dragover"].forEach(function (name) {
      place.addEventListener(name, function (event) {
        event.preventDefault();
        place.classList.add("drop-over");
      });
    });
    ["dragleave", "drop"].forEach(function (name) {
      place.addEventListener(name, function (event) {
        event.preventDefault();
        place.classList.remove("drop-over");
      });
    });
    place.addEventListener("drop", function (event) {
      if (event.dataTransfer.files.length && !input.disabled) {
        bring(Array.from(event.dataTransfer.files), list, status, input);
      }
    });
  };
})();
