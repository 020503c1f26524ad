"use strict";
(function () {
  // Ticks are kept in this browser only; without its store they last as long as the page is open.
  var list = document.querySelector("[data-event]");
  if (list) {
    var key = "trackday:" + list.dataset.event;
    var boxes = Array.from(list.querySelectorAll("input[type=checkbox]"));
    var store = null;
    var ticked = {};
    try {
      store = window.localStorage;
      ticked = JSON.parse(store.getItem(key) || "{}") || {};
    } catch (fault) {
      store = null;
      list.querySelector(".unkept").hidden = false;
    }
    var count = list.querySelector(".count");
    var tell = function () {
      var done = boxes.filter(function (box) { return box.checked; }).length;
      count.textContent = done + " of " + boxes.length + " loaded";
    };
    boxes.forEach(function (box) {
      box.checked = ticked[box.dataset.key] === true;
      box.addEventListener("change", function () {
        ticked[box.dataset.key] = box.checked;
        tell();
        if (!store) { return; }
        try {
          store.setItem(key, JSON.stringify(ticked));
        } catch (fault) {
          store = null;
          list.querySelector(".unkept").hidden = false;
        }
      });
    });
    tell();
  }
  // A load list's page opens at the list, unless its address names another part.
  var part = document.getElementById(document.body.dataset.opensAt || "");
  if (part && !location.hash) {
    part.scrollIntoView({ behavior: "instant" });
  }
  // A page that lay in the pocket says how old it is.
  var age = document.querySelector("[data-as-of]");
  var hours = (Date.now() - Date.parse(age.dataset.asOf)) / 3600000;
  if (hours >= 2) {
    age.textContent = hours < 48
      ? "This page was made " + Math.floor(hours) + " h ago: look again."
      : "This page was made " + Math.floor(hours / 24) + " days ago: look again.";
    age.hidden = false;
  }
})();
