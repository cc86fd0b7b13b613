// Package jvm proves that the contract of package mobile crosses into Java.
// It holds no code, only tests.
//
// A phone's shell never sees Go. It sees what the tool gobind makes of package
// mobile: Java classes over native calls, in which an int has become a long, an
// error an exception, and in which a member that the tool cannot carry is left
// out with no more than a comment. That can break while every test in Go stays
// green. So the test generates the real binding, fails when anything exported
// was left out, builds it with the real core as a library of this machine, and
// runs a whole case through it in a Java virtual machine: each page by Get,
// each tap by Send, as a WebView would read them and send them.
//
// The Java side is a driver of our own that does what a shell does and nothing
// more: it carries strings and bytes, and lends a Platform. Whatever it got
// comes back over a pipe, and the test compares it with what was tapped.
//
// A second test puts the Android shell before the same binding: Maven compiles
// its Kotlin, and runs its tests in Robolectric, with Android's own framework,
// and with the taps that a browser sent (testdata/port).
//
// Neither is a test of Android. There the generated code is compiled by another
// compiler against another C library, and runs on another virtual machine;
// what differs is answered here by two files that stand for Android's log and
// by one empty class. A C compiler and a JDK are needed; make deps installs
// them.
//
// What it showed, and what a shell must keep to:
//
//   - A Java null arrives as an empty string, and as no bytes at all.
//   - Bytes are only lent to Send: they may be overwritten once it returns.
//   - Page.getBody copies at each call, and answers null for an empty body.
//   - A Platform that throws is not heard. Go gets an empty answer and goes on;
//     the exception comes out of the call of Java around it, if there is one.
//     What follows on Android is not defined. So no method of it may throw.
//   - A thread of Go that asked the Platform belongs to the virtual machine from
//     then on. On a desk it keeps the machine from ending by itself.
package jvm
