import { parse, View, Warn } from "vega"
import { compile } from "vega-lite"
import { expressionInterpreter } from "vega-interpreter"
window.likelossCharts = { compile, expressionInterpreter, parse, View, Warn }
