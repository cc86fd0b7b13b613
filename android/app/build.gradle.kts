plugins {
    id("com.android.application")
}

// What make aar built: the core, and the Java classes by which it is called.
val core = file("../../.build/android/mobile.aar")

android {
    namespace = "chinlift.phone"
    compileSdk = 36

    defaultConfig {
        applicationId = "chinlift.phone"
        minSdk = 26
        targetSdk = 36
        versionCode = providers.gradleProperty("chinlift.code").getOrElse("1").toInt()
        versionName = providers.gradleProperty("chinlift.version").getOrElse("unversioned")
        // The core's SQLite makes system calls that Android kills an app for on the other processors.
        ndk { abiFilters += "arm64-v8a" }
    }

    compileOptions {
        sourceCompatibility = JavaVersion.VERSION_17
        targetCompatibility = JavaVersion.VERSION_17
    }

    lint {
        abortOnError = true
        checkReleaseBuilds = true
    }
}

dependencies {
    implementation(files(core))
    testImplementation("junit:junit:4.13.2")
    testImplementation("org.robolectric:robolectric:4.17")
}

tasks.named("preBuild") {
    doFirst {
        check(core.exists()) { "The core is not here: run make aar in the folder above, which needs Android's NDK." }
    }
}
