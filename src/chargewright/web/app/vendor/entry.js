export { h, render, Fragment, createRef } from "preact";
export { useState, useEffect, useRef, useMemo, useLayoutEffect, useCallback } from "preact/hooks";
export { signal, computed, effect, batch, useSignal, useComputed, useSignalEffect } from "@preact/signals";
import { h } from "preact";
import htm from "htm";
export const html = htm.bind(h);
