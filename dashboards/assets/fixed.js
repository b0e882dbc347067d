/* Draws parts that never change: elements of a page without ids and callbacks, as plain elements. */
(function () {
  "use strict";

  function element(part, key) {
    if (part === null || part === undefined || typeof part !== "object") return part;
    if (Array.isArray(part)) return part.map(element);
    const { children, ...own } = part.props;
    const shown = Array.isArray(children) ? children.map(element) : element(children);
    return React.createElement(part.type.toLowerCase(), { key: key, ...own }, shown);
  }

  window.dashboards = window.dashboards || {};
  window.dashboards.Fixed = function (props) {
    return React.createElement(React.Fragment, null, props.parts.map(element));
  };
})();
