// Builds everything: the rooms and the command line, the pages of the workbench and of
// the documentation, and the manual pages.
import { build, buildManPages, buildWeb, installPackages } from './setup.mjs'

installPackages()
build()
buildWeb()
buildManPages()
