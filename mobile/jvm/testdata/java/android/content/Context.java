package android.content;

/** Context stands for Android's, which the generated Go support code names and this test never makes. */
public class Context {}
