// Builds everything: the rooms and the command line, the pages of the workbench and of
// the documentation, and the manual pages.
import { build, buildWeb, installPackages, run } from './setup.mjs'

installPackages()
build()
buildWeb()
run(process.execPath, ['scripts/man-pages.mjs'])
